package body

// A Model is the published joint model under a shop's settings, with the
// shop's own calibration if there is one. It is safe for several goroutines.
type Model struct {
	settings Settings
}

// NewModel returns the model on published values alone.
func NewModel(s Settings) *Model { return &Model{settings: s} }

// Name says which model judged a form; it changes whenever the judgements may.
func (m *Model) Name() string { return "survey-2012/1" }
