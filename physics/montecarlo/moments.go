package montecarlo

import "math"

// block is what a block of trials gave.
type block struct {
	moments
	statistics [2][statistics]float64 // of each output, in an adaptive run
}

// moments are the running mean and the sums of squares about it, of one output
// or two.
type moments struct {
	n       float64
	mean    [2]float64
	squares [2]float64
	product float64
}

// momentsOf finds them in two passes and counts from the first trial, so that
// nothing cancels where the spread is small beside the mean, and values all
// alike have no spread.
func momentsOf(y [][]float64) moments {
	m := moments{n: float64(len(y[0]))}
	for j, v := range y {
		s := 0.0
		for _, x := range v {
			s += x - v[0]
		}
		m.mean[j] = v[0] + s/m.n
	}
	for j, v := range y {
		s := 0.0
		for _, x := range v {
			d := x - m.mean[j]
			s += d * d
		}
		m.squares[j] = s
	}
	if len(y) == 2 {
		s := 0.0
		a, b := y[0], y[1][:len(y[0])]
		for i, x := range a {
			s += (x - m.mean[0]) * (b[i] - m.mean[1])
		}
		m.product = s
	}
	return m
}

// add takes in the moments of further trials by the pairwise update of Chan,
// Golub and LeVeque (1983).
func (m *moments) add(b *moments) {
	if m.n == 0 {
		*m = *b
		return
	}
	n := m.n + b.n
	w := m.n * b.n / n
	var d [2]float64
	for j := range d {
		d[j] = b.mean[j] - m.mean[j]
		m.mean[j] += d[j] * b.n / n
		m.squares[j] += b.squares[j] + d[j]*d[j]*w
	}
	m.product += b.product + d[0]*d[1]*w
	m.n = n
}

func (m *moments) sd(j int) float64 { return math.Sqrt(m.squares[j] / (m.n - 1)) }

// correlation is 0 where an output does not vary.
func (m *moments) correlation() float64 {
	a, b := math.Sqrt(m.squares[0]), math.Sqrt(m.squares[1])
	if a == 0 || b == 0 {
		return 0
	}
	return max(-1, min(1, m.product/a/b))
}

// finite tells whether every trial was a finite number: a NaN or an infinity
// among them would show in the sums.
func (m *moments) finite() bool {
	s := m.squares[0] + m.squares[1]
	return !math.IsNaN(s) && !math.IsInf(s, 0)
}

// scatter is the running mean and spread of one statistic over the blocks.
type scatter struct{ n, mean, squares float64 }

func (s *scatter) add(x float64) {
	s.n++
	d := x - s.mean
	s.mean += d / s.n
	s.squares += d * (x - s.mean)
}

// ofAverage is the standard deviation of the average over the blocks (JCGM
// 101, 7.9.4 e); infinite for a single block.
func (s *scatter) ofAverage() float64 {
	if s.n < 2 {
		return math.Inf(1)
	}
	return math.Sqrt(s.squares / (s.n * (s.n - 1)))
}
