package remote

import "time"

// hold says once that the clock is waited for.
func (s *Sender) hold(on bool) {
	if s.stats.Holding != on && on {
		s.opt.Log.Info("sending waits until the clock is trusted: the times would be wrong", "boot", s.st.At.Boot)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.stats.Holding = on
}

// failing says once why sending fails.
func (s *Sender) failing(words string) {
	if words != s.trouble {
		s.opt.Log.Warn("the record can't be sent; it waits", "error", words)
	}
	s.trouble = words
	s.mu.Lock()
	defer s.mu.Unlock()
	s.stats.Failures++
	s.stats.Failing = words
}

func (s *Sender) recovered() {
	if s.trouble != "" {
		s.opt.Log.Info("the record is sent again")
	}
	s.trouble = ""
	s.mu.Lock()
	defer s.mu.Unlock()
	s.stats.Failing = ""
}

// publish shows others how it stands.
func (s *Sender) publish() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.stats.Counts, s.stats.Boot, s.stats.Minute, s.stats.Today = s.st.Counts, s.st.At.Boot, s.st.At.Minute, s.st.Spent.Bytes
	if s.st.At.Stamp > 0 {
		s.stats.Newest = time.UnixMilli(s.st.At.Stamp)
	}
}

// Stats is how a sender is doing.
type Stats struct {
	Counts
	// Failures of attempts since the program began; Failing is why the last one
	// failed, in words, empty when it didn't.
	Failures uint64
	Failing  string
	// Holding is true while a trusted clock is waited for.
	Holding bool
	// Boot and Minute that come next, and the newest time that was sent; zero
	// for none.
	Boot   uint64
	Minute int64
	Newest time.Time
	// Today is what the day (UTC) has cost so far, in bytes.
	Today int64
}

// Stats is safe for use by many goroutines.
func (s *Sender) Stats() Stats {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.stats
}
