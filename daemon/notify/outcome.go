package notify

import "time"

// succeeded counts what a target took and says so if it had been failing.
func (w *worker) succeeded(news, repeats uint64) {
	var recovered bool
	var since time.Time
	w.tally.edit(func(s *TargetStats) {
		recovered, since = s.Failing, s.FailingSince
		s.Sent += news
		s.Repeated += repeats
		s.Failing, s.FailingSince, s.LastError = false, time.Time{}, ""
		s.LastSuccess = time.Now()
	})
	if recovered {
		w.log.Info("notifications get through again", "failed_for", time.Since(since).Round(time.Second))
	}
}

// failed counts an attempt that will be tried again. Only the first of a row
// is logged.
func (w *worker) failed(err error) {
	var first bool
	w.tally.edit(func(s *TargetStats) {
		first = !s.Failing
		s.Failures++
		s.LastError = err.Error()
		if first {
			s.Failing, s.FailingSince = true, time.Now()
		}
	})
	if first {
		w.log.Warn("notifications don't get through, trying again", "error", err)
	}
}

// refused gives up what a target will never take. The target itself works, so
// it is not failing.
func (w *worker) refused(batch []Notification, err error) {
	news, _ := w.queue.done(batch)
	w.tally.edit(func(s *TargetStats) {
		s.Refused += news
		s.Failing, s.FailingSince, s.LastError = false, time.Time{}, err.Error()
	})
	w.log.Error("notification refused and given up", "alarm", batch[0].Alarm, "error", err)
}

// stats returns the counts so far.
func (w *worker) stats() TargetStats {
	s := w.tally.read()
	s.Coalesced = w.queue.drops()
	s.Waiting, _ = w.queue.pending()
	return s
}
