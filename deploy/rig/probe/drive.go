//go:build rig && linux

package main

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"time"

	"headroom/rules/frame"
	"headroom/sensors"
)

// drive runs the drivers of those kinds through supervisor and board, as the
// daemon does, and prints the board five times a second: a line for every
// channel, "read CHANNEL STATUS VALUE NOTE".
func drive(kinds arguments) error {
	clock := monotonic()
	var stale [frame.NumChannels]time.Duration
	var drivers []sensors.Driver
	for _, name := range kinds {
		k, ok := kindsOfDriver[name]
		if !ok {
			return fmt.Errorf("no driver of kind %q", name)
		}
		d, err := k.make()
		if err != nil {
			return err
		}
		for _, c := range d.Channels() {
			stale[c] = k.stale
		}
		drivers = append(drivers, d)
	}
	s := &sensors.Supervisor{Board: sensors.NewBoard(stale), Clock: clock, Log: slog.New(slog.NewTextHandler(os.Stdout, nil))}
	for _, d := range drivers {
		go s.Run(context.Background(), d)
	}
	for {
		show(s.Board, clock(), drivers)
		alive()
		time.Sleep(200 * time.Millisecond)
	}
}

func show(b *sensors.Board, now time.Duration, drivers []sensors.Driver) {
	var f frame.Frame
	b.Frame(now, &f)
	notes := b.Notes()
	for _, d := range drivers {
		for _, c := range d.Channels() {
			fmt.Printf("read %s %s %.8g %s\n", c, f.Samples[c].Status, f.Samples[c].Value, notes[c])
		}
	}
}

func monotonic() func() time.Duration {
	start := time.Now()
	return func() time.Duration { return time.Since(start) }
}
