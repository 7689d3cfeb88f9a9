package metrics

import (
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// Remote is how the sending of the record to a store of many machines goes.
// Counts are since that sending began, over restarts.
type Remote struct {
	// Sent samples that the store took, Refused ones it never will, Known ones
	// that it had already.
	Sent, Refused, Known uint64
	// Minutes of the record that were sent, Bare those of them without
	// readings, for lack of budget.
	Minutes, Bare uint64
	// Failures of attempts since the program's start.
	Failures uint64
	// BytesOut and BytesIn on the wire, and TodayBytes both of this day, UTC.
	BytesOut, BytesIn uint64
	TodayBytes        int64
	// Failing while the last attempt failed, Holding while a trusted clock is
	// waited for.
	Failing, Holding bool
	// Behind is the age of the newest sample that was sent; valid if HasBehind.
	Behind    time.Duration
	HasBehind bool
}

// remoteDescs are the metrics of Remote.
type remoteDescs struct {
	samples, minutes, failures, wire, today, failing, holding, behind *prometheus.Desc
}

func newRemoteDescs() remoteDescs {
	return remoteDescs{
		samples:  desc("remote_samples_total", "Samples of the record by what became of them: taken by the store, refused for good, or known to it from an attempt whose answer was lost.", "outcome"),
		minutes:  desc("remote_record_seconds_total", "Seconds of the record that were sent, by whether readings were in them or the budget had no room.", "readings"),
		failures: desc("remote_failures_total", "Attempts to send that failed and are tried again."),
		wire:     desc("remote_wire_bytes_total", "Bytes of the connections to the store, TLS and headers counted.", "direction"),
		today:    desc("remote_today_bytes", "Bytes of this day (UTC), both ways, that count against the budget."),
		failing:  desc("remote_failing", "1 while the record can't be sent."),
		holding:  desc("remote_holding", "1 while sending waits for a trusted clock."),
		behind:   desc("remote_behind_seconds", "Age of the newest sample that was sent. Only once there was one."),
	}
}

func (d *remoteDescs) all(ch chan<- *prometheus.Desc) {
	for _, x := range []*prometheus.Desc{d.samples, d.minutes, d.failures, d.wire, d.today, d.failing, d.holding, d.behind} {
		ch <- x
	}
}

// remote sends nothing where nothing is sent on.
func (c *Collector) remote(s sink) {
	if c.sender == nil {
		return
	}
	r, ok := c.sender()
	if !ok {
		return
	}
	d := &c.d.remote
	s.counter(d.samples, float64(r.Sent), "taken")
	s.counter(d.samples, float64(r.Refused), "refused")
	s.counter(d.samples, float64(r.Known), "known")
	s.counter(d.minutes, 60*float64(r.Minutes-r.Bare), "sent")
	s.counter(d.minutes, 60*float64(r.Bare), "left_out")
	s.counter(d.failures, float64(r.Failures))
	s.counter(d.wire, float64(r.BytesOut), "out")
	s.counter(d.wire, float64(r.BytesIn), "in")
	s.gauge(d.today, float64(r.TodayBytes))
	s.gauge(d.failing, truth(r.Failing))
	s.gauge(d.holding, truth(r.Holding))
	if r.HasBehind {
		s.gauge(d.behind, r.Behind.Seconds())
	}
}
