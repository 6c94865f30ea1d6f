package plain

// mostNested bounds the questions that wait while another is asked.
const mostNested = 4

// ask puts a question and returns the answer; see voice.ask.
func (d *dialogue) ask(q question) (string, error) { return d.voice.ask(q, d.command) }

// confirm asks whether a word of command is meant; anything but yes is no.
func (d *dialogue) confirm(word, text string) (bool, error) {
	line, err := d.ask(question{text: text, here: "Here yes or no is expected.", kind: word})
	return yes(line), err
}

// aside asks a question beside the main one, unless too many wait already.
func (d *dialogue) aside(f func() error) error {
	if d.nested == mostNested {
		d.say("Answer the question first, or type back to leave it.")
		return nil
	}
	d.nested++
	defer func() { d.nested-- }()
	return f()
}
