//go:build linux && amd64

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"time"
)

// pinNames are the board's pins in order, by the names that programs ask for.
var pinNames = []string{"FLOW", "SHAFT", "RUNNING", "TRIGGER", "POWER", "RELAY", "BEACON", "HORN", "RESET"}

// pins is the simulated chip: inputs are moved through their pull, outputs read
// through their value.
type pins struct {
	chip   string // gpiochip0
	folder string // its sysfs folder
}

const pinsConfig = "/sys/kernel/config/gpio-sim/board"

func newPins() (*pins, error) {
	const base = pinsConfig
	if err := os.MkdirAll(base+"/bank0", 0o755); err != nil {
		return nil, fmt.Errorf("cannot make a gpio-sim chip: %w", err)
	}
	// Programs find pins by chip label; this one is the usual board's.
	settings := [][2]string{{"/bank0/num_lines", strconv.Itoa(len(pinNames))}, {"/bank0/label", "pinctrl-bcm2835"}}
	for i, n := range pinNames {
		line := fmt.Sprintf("/bank0/line%d", i)
		if err := os.Mkdir(base+line, 0o755); err != nil {
			return nil, fmt.Errorf("cannot make pin %s: %w", n, err)
		}
		settings = append(settings, [2]string{line + "/name", n})
	}
	for _, s := range settings {
		if err := put(base+s[0], s[1]); err != nil {
			return nil, fmt.Errorf("cannot set up the gpio-sim chip: %s: %w", s[0], err)
		}
	}
	p := &pins{}
	return p, p.plug()
}

// plug makes the chip appear. While somebody still holds a line of the one
// that was unplugged, its number is another.
func (p *pins) plug() error {
	if err := put(pinsConfig+"/live", "1"); err != nil {
		return fmt.Errorf("cannot plug the pins: %w", err)
	}
	p.chip = text(pinsConfig + "/bank0/chip_name")
	p.folder = filepath.Join("/sys/devices/platform", text(pinsConfig+"/dev_name"), p.chip)
	return until(2*time.Second, func() bool {
		_, err := os.Stat("/dev/" + p.chip)
		return err == nil
	})
}

// unplug takes the chip away under whoever holds its lines, as when the cable
// of an expander comes off.
func (p *pins) unplug() error {
	if err := put(pinsConfig+"/live", "0"); err != nil {
		return fmt.Errorf("cannot unplug the pins: %w", err)
	}
	return nil
}

// line returns the sysfs folder of a pin.
func (p *pins) line(name string) (string, error) {
	for i, n := range pinNames {
		if n == name {
			return filepath.Join(p.folder, fmt.Sprintf("sim_gpio%d", i)), nil
		}
	}
	return "", fmt.Errorf("there is no pin %q, only %s", name, strings.Join(pinNames, " "))
}

func (p *pins) value(name string) (string, error) {
	l, err := p.line(name)
	if err != nil {
		return "", err
	}
	return text(l + "/value"), nil
}

// pull moves an input: up or down.
func (p *pins) pull(name, direction string) error {
	l, err := p.line(name)
	if err != nil {
		return err
	}
	return put(l+"/pull", "pull-"+direction)
}

// pace is what becomes of the time that a busy host has taken from a train of
// pulses.
type pace string

const (
	// catchUp makes up for all of it at once, so that the mean rate holds.
	catchUp pace = "pulses"
	// steady makes up for none of it: no two pulses come much closer than the
	// period, as from a real wheel.
	steady pace = "steady"
	// mean makes up for it with pulses half a period apart.
	mean pace = "mean"
)

// pulses drives count pulses at rate a second (0: as fast as it goes) in
// groups of burst, and says how long that took.
func (p *pins) pulses(name string, count int, rate float64, burst int, how pace) (time.Duration, error) {
	l, err := p.line(name)
	if err != nil {
		return 0, err
	}
	f, err := os.OpenFile(l+"/pull", os.O_WRONLY, 0)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	up, down := []byte("pull-up"), []byte("pull-down")
	begin := time.Now()
	pause := time.Duration(0)
	if rate > 0 {
		pause = time.Duration(float64(burst) / rate * float64(time.Second))
	}
	next := begin
	for i := 1; i <= count; i++ {
		if _, err := f.WriteAt(up, 0); err != nil {
			return 0, err
		}
		if _, err := f.WriteAt(down, 0); err != nil {
			return 0, err
		}
		if pause > 0 && i%burst == 0 {
			next = how.after(next, pause)
			waitUntil(how.notBefore(next, pause))
		}
	}
	return time.Since(begin), nil
}

// after is when the next pulse is due.
func (how pace) after(last time.Time, pause time.Duration) time.Time {
	next := last.Add(pause)
	if now := time.Now(); how == steady && next.Before(now.Add(pause/2)) {
		return now.Add(pause)
	}
	return next
}

// notBefore is when a pulse that is due may come.
func (how pace) notBefore(due time.Time, pause time.Duration) time.Time {
	if soonest := time.Now().Add(pause / 2); how == mean && due.Before(soonest) {
		return soonest
	}
	return due
}

// waitUntil sleeps, and asks the clock over and over for the last moment: an
// emulated timer alone is late by a millisecond or two.
func waitUntil(t time.Time) {
	const moment = 2 * time.Millisecond
	time.Sleep(time.Until(t) - moment)
	for time.Now().Before(t) {
		runtime.Gosched()
	}
}
