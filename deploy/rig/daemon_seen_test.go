//go:build rig

package rig

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/rig/meter"
)

//go:embed testdata/daemon.toml
var daemonConfig []byte

// daemonImage runs the program itself.
var daemonImage = image(Contents{
	Programs: []Program{{Package: "headroom/daemon", Path: "/headroom"}},
	Files:    map[string][]byte{"/headroom.toml": daemonConfig},
})

// daemon is a guest that runs the program itself, and what its channels must
// show.
type daemon struct {
	*guest
	meter *meter.Meter
	want  map[string]want
	last  seen
}

// want is a channel's true value, SI, and how far a reading may be off it.
type want struct{ value, within float64 }

// seen is what the daemon's own page says at one time.
type seen struct {
	at       time.Duration // the guest's clock
	seq      uint64
	level    string
	state    string
	waterM3  float64
	restarts int
	channels map[string]shown
	alarms   map[string]bool // those that are active
}

// shown is one channel on the page.
type shown struct {
	status, note string
	value        float64
}

// fetched reads the page; ok is false while nobody serves it.
func (d *daemon) fetched() (s seen, ok bool) {
	d.t.Helper()
	l, err := d.Do("fetch /api/v1/status")
	if err != nil {
		return s, false
	}
	var page struct {
		Seq      uint64           `json:"seq"`
		Level    string           `json:"level"`
		State    string           `json:"machine_state"`
		Channels []map[string]any `json:"channels"`
		Alarms   []struct {
			Alarm  string `json:"alarm"`
			Active bool   `json:"active"`
		} `json:"alarms"`
		Totals struct {
			WaterM3 float64 `json:"water_cubic_meters"`
		} `json:"totals"`
		Health struct {
			Restarts int `json:"driver_restarts"`
		} `json:"health"`
	}
	require.NoError(d.t, json.Unmarshal([]byte(l.Text), &page), l.Text)
	s = seen{l.Uptime, page.Seq, page.Level, page.State, page.Totals.WaterM3, page.Health.Restarts, map[string]shown{}, map[string]bool{}}
	for _, c := range page.Channels {
		s.channels[fmt.Sprint(c["channel"])] = shownOf(c)
	}
	for _, a := range page.Alarms {
		s.alarms[a.Alarm] = a.Active
	}
	return s, true
}

// shownOf finds a channel's value by its key, which ends in the unit.
func shownOf(c map[string]any) shown {
	out := shown{status: fmt.Sprint(c["status"]), note: fmt.Sprint(c["note"]), value: math.NaN()}
	for key, v := range c {
		switch v := v.(type) {
		case float64:
			if strings.HasPrefix(key, "value_") {
				out.value = v
			}
		case bool:
			if out.value = 0; key == "on" && v {
				out.value = 1
			}
		}
	}
	return out
}

// look reads the page of a daemon that must be there and must tick.
func (d *daemon) look() seen {
	d.t.Helper()
	s, ok := d.fetched()
	require.True(d.t, ok, "the daemon doesn't answer")
	gap := s.at - d.last.at
	if gap > 2*time.Second {
		require.Greater(d.t, s.seq, d.last.seq, "no tick in %v", gap)
	}
	if s.seq > d.last.seq {
		d.last = s
	}
	return s
}

// wrong names what a channel shows that isn't its true value; empty when all
// is well.
func (d *daemon) wrong(s seen, channel string) string {
	c, w := s.channels[channel], d.want[channel]
	if c.status != "good" {
		return fmt.Sprintf("%s is %s: %s", channel, c.status, c.note)
	}
	if !(math.Abs(c.value-w.value) <= w.within) {
		return fmt.Sprintf("%s is %g and not %g", channel, c.value, w.value)
	}
	return ""
}

// allWrong names everything that isn't as it should be.
func (d *daemon) allWrong(s seen) string {
	var all []string
	for c := range d.want {
		if w := d.wrong(s, c); w != "" {
			all = append(all, w)
		}
	}
	return strings.Join(all, "; ")
}

// await reads the page until wrong finds nothing, in the guest's time.
func (d *daemon) await(limit time.Duration, wrong func(seen) string) seen {
	d.t.Helper()
	first := d.look()
	for s := first; ; s = d.look() {
		why := wrong(s)
		if why == "" {
			return s
		}
		require.Less(d.t, s.at-first.at, limit, "still: %s", why)
		time.Sleep(100 * time.Millisecond)
	}
}
