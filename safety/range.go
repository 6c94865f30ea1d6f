package safety

import (
	"fmt"

	"example.org/halve/physics/quantity"
)

// The range of source voltages this practical is made for (common practice,
// no source): one to three cells. Above RefuseEMF the program takes no part.
const (
	LowEMF      = 0.3  // V; less hardly moves a school galvanometer
	QuestionEMF = 6.0  // V; more is not needed
	RefuseEMF   = 12.0 // V; more has no place on a student bench
)

// SourceRange questions or refuses a source by its highest EMF in volt. An
// empty question and a nil error mean that it is in range.
func SourceRange(emf float64) (question string, err error) {
	switch v := quantity.Format(emf, quantity.Volt, 2); {
	case emf > RefuseEMF:
		return "", fmt.Errorf("%s is more than this practical may use: a source of 1 to 3 V, at most 12 V, and never the mains", v)
	case emf > QuestionEMF:
		return fmt.Sprintf("Is %s right? One or two cells (1 to 3 V) are enough, and kinder to the boxes.", v), nil
	case emf < LowEMF:
		return fmt.Sprintf("Is %s right? So little hardly moves a school galvanometer.", v), nil
	}
	return "", nil
}
