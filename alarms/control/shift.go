package control

// Shift moves what was heard of the inside temperature by so many K, when its
// probe was found to have been off by so much: no step is to be seen there.
func (s *Sense) Shift(by float64) {
	s.Inside += by
	s.Usual += by
	s.Smooth += by
	for i := range s.Breaks.N {
		s.Breaks.In[i] += by
	}
}

// Shift is that of Sense. What is called and what runs stays as it is until the
// next reading.
func (j *Judge) Shift(bulb int, by float64) {
	t := j.felt(bulb)
	t.Value += by
	for i := range t.N {
		t.Last[i] += by
	}
}
