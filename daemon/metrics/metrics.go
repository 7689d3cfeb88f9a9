// Package metrics tells a Prometheus server what the machine is doing, from the
// newest snapshot. It owns the names of the metrics: base units, one quantity
// each, counters that end in _total. A scrape reads the store and never a
// sensor; a reading that is not good is left out, since a dead sensor's last
// value would look like a live one, and its status says why. It keeps no state
// and no global registry, and it is no record: the fast readings are in the
// recording.
package metrics

import (
	"net/http"
	"runtime"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"headroom/daemon/snapshot"
)

// oldAfter is when a snapshot counts as old: its readings are then left out.
const oldAfter = 5 * time.Second

// Collector turns the newest snapshot into metrics at each scrape.
type Collector struct {
	store   *snapshot.Store
	version string
	// from is what gives the readings.
	from string
	now  func() time.Time
	d    descs
	// sender tells how the sending to a store goes; nil without one.
	sender func() (Remote, bool)
}

var _ prometheus.Collector = (*Collector)(nil)

// New makes a collector over a store. version is the program's own, from is what
// gives the readings.
func New(snaps *snapshot.Store, version string, from string) *Collector {
	return &Collector{store: snaps, version: version, from: from, now: time.Now, d: newDescs()}
}

// Handler serves the metrics of a store, and those of the process itself, from
// a registry of its own. sender tells how the sending to a store of many
// machines goes; nil, or ok false, for none.
func Handler(snaps *snapshot.Store, version string, from string, sender func() (Remote, bool)) http.Handler {
	reg := prometheus.NewRegistry()
	c := New(snaps, version, from)
	c.sender = sender
	reg.MustRegister(c, collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return promhttp.HandlerFor(reg, promhttp.HandlerOpts{MaxRequestsInFlight: 4})
}

// Describe sends every description.
func (c *Collector) Describe(ch chan<- *prometheus.Desc) { c.d.all(ch) }

// Collect sends the newest snapshot's metrics; before the first tick only what
// is known of the program itself.
func (c *Collector) Collect(ch chan<- prometheus.Metric) {
	s := sink{ch}
	s.gauge(c.d.build, 1, c.version, runtime.Version())
	s.gauge(c.d.readings, 1, c.from)
	c.remote(s)
	snap := c.store.Latest()
	if snap == nil {
		s.gauge(c.d.fresh, 0)
		return
	}
	fresh := c.now().Sub(snap.Wall) <= oldAfter
	s.gauge(c.d.fresh, truth(fresh))
	c.channels(s, snap, fresh)
	c.rules(s, snap, fresh)
	c.alarms(s, snap)
	c.acts(s)
	c.machine(s, snap, fresh)
	c.daemon(s, snap)
}

// sink sends constant metrics.
type sink struct{ ch chan<- prometheus.Metric }

func (s sink) gauge(d *prometheus.Desc, v float64, labels ...string) {
	s.ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, labels...)
}

func (s sink) counter(d *prometheus.Desc, v float64, labels ...string) {
	s.ch <- prometheus.MustNewConstMetric(d, prometheus.CounterValue, v, labels...)
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
