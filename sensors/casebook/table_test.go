package casebook_test

import (
	"flag"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
	"headroom/sensors/plant"
)

var update = flag.Bool("update", false, "write the table of cases anew")

const tableHead = `# Cases

Written by ` + "`go test ./sensors/casebook -run TestTable -update`" + `; a test keeps it current. Every machine, house and job is invented.

An alarm stands with its latency and, behind the bar, the most that delay, filters, sensor, three times the noise and one tick of 0.1 s explain. The latency counts from the moment at which the plant's true value passes the rule's limit, or the rule begins to apply. A root calls for a person; a consequence stands under its root. "near" marks a value that stays so close to its limit that noise decides when it is seen. The lead is the time from the first call to the modelled damage (sensors/plant/damage.go); where nothing is damaged by the end, the share of it that is used up stands, if it is a percent or more.

`

// TestTable keeps the table current.
func TestTable(t *testing.T) {
	var b strings.Builder
	b.WriteString(tableHead)
	b.WriteString("| case | faults | roots | consequences | lead |\n|---|---|---|---|---|\n")
	alarms, inBound, roots := 0, 0, 0
	for _, tp := range all() {
		times, _ := tp.judge(&tp.run)
		b.WriteString(tp.row(times))
		for _, h := range tp.run.log {
			if h.Under == "" {
				roots++
			}
		}
		for i := range times {
			alarms++
			if times[i].bound > 0 {
				inBound++
			}
		}
	}
	b.WriteString(sprintf("\n%d cases; %d alarms, %d of them roots, %d bounded to the tick. Missed: 0, false: 0.\n", len(all()), alarms, roots, inBound))
	if *update {
		require.NoError(t, os.MkdirAll(filepath.Dir(tableFile), 0o755))
		require.NoError(t, os.WriteFile(tableFile, []byte(b.String()), 0o644))
	}
	have, err := os.ReadFile(tableFile)
	require.NoError(t, err)
	if runtime.GOARCH != "amd64" {
		t.Skip("the plant's last bits, and with them a tick here and there, are those of amd64")
	}
	require.Equal(t, string(have), b.String(), "the table is old: run with -update and read what has changed")
}

func (tp *tape) row(times []timed) string {
	var roots, under []string
	for _, h := range tp.run.log {
		text := h.Alarm
		if x := find(times, h.Alarm, h.At); x != nil {
			text += " " + latency(x)
		}
		if h.Under == "" {
			roots = append(roots, text)
		} else {
			under = append(under, text)
		}
	}
	name := strings.TrimSuffix(tp.s.Name, ".toml")
	return sprintf("| %s: %s | %s | %s | %s | %s |\n", name, tp.s.Title, tp.faults(), orNone(roots), orNone(under), tp.lead())
}

func find(times []timed, name string, at time.Duration) *timed {
	for i := range times {
		if alarmName(times[i].alarm) == name && times[i].at == at {
			return &times[i]
		}
	}
	return nil
}

func latency(x *timed) string {
	if x.bound == 0 || x.latency < 0 {
		return "near"
	}
	return sprintf("%.1f\\|%.1f s", x.latency.Seconds(), x.bound.Seconds())
}

func orNone(list []string) string {
	if len(list) == 0 {
		return "-"
	}
	return strings.Join(list, "<br>")
}

func (tp *tape) faults() string {
	var names []string
	for _, f := range tp.s.Faults {
		name := f.Kind.String()
		if f.Channel < frame.NumChannels {
			name += " " + f.Channel.String()
		}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return orNone(names)
}

// lead is the time from the first call to the first modelled damage.
func (tp *tape) lead() string {
	if s, mode, done := tp.leadS(); done {
		return sprintf("%s, %.0f s", mode, s)
	}
	// Winding and pressure are levels, not used up by time.
	for _, m := range [...]plant.Mode{plant.DryRun, plant.Cavitation, plant.Overheat} {
		if used := tp.plant.Damage.Used[m]; used >= 0.01 {
			return sprintf("%s %.0f %%", m, 100*used)
		}
	}
	return "-"
}

// leadS returns the lead in seconds, below 0 where a damage came without any
// call; done is false where nothing is damaged.
func (tp *tape) leadS() (s float64, mode plant.Mode, done bool) {
	d := &tp.plant.Damage
	for m := range plant.NumModes {
		if d.Done[m] && (!done || d.AtS[m] < s) {
			s, mode, done = d.AtS[m], m, true
		}
	}
	for _, h := range tp.run.log {
		if done && h.Called {
			return s - h.At.Seconds(), mode, true
		}
	}
	return -1, mode, done
}

// TestLead: where nobody reacts the modelled machine is damaged, and the first
// alarm comes well before. The least lead is reasoned from the damage model's
// own assumptions and the rules' delays.
func TestLead(t *testing.T) {
	least := map[string]struct {
		mode  plant.Mode
		leadS float64
		why   string
	}{
		"nobody_dry_run.toml":      {plant.DryRun, 25, "30 s dry less 1 s of delay and 2 s of filters"},
		"nobody_cavitation.toml":   {plant.Cavitation, 300, "300 s of half-empty cylinders, and these are fuller"},
		"nobody_hand_off.toml":     {plant.Overheat, 120, "60 s after the shutting against some 150 s to 60 C and 69 s beyond"},
		"nobody_overpressure.toml": {plant.Overpressure, 15, "105 % to 150 % of the pressure: 19 % of the nozzle at 1 % a second, less 2 s"},
	}
	for _, tp := range all() {
		s, mode, done := tp.leadS()
		want, must := least[tp.s.Name]
		require.True(t, done || !must, "%s: the machine survived", tp.s.Name)
		if done {
			require.Greater(t, s, 0.0, "%s: damage by %s before any alarm", tp.s.Name, mode)
		}
		if must {
			require.Equal(t, want.mode, mode, tp.s.Name)
			require.GreaterOrEqual(t, s, want.leadS, "%s: %s", tp.s.Name, want.why)
			delete(least, tp.s.Name)
		}
	}
	require.Empty(t, least, "cases are missing")
}
