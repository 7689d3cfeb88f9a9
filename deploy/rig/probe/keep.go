//go:build rig && linux

package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"sync/atomic"
	"syscall"
	"time"

	"headroom/sensors/gpiochip"
	"headroom/sensors/outputs"
)

// keep lets the machine run: a stop relay on RELAY that must be energised for
// it, and a beacon on BEACON that flashes, on a board that switches on with a
// low line. SIGUSR1 stalls the tick while the program lives on, SIGTERM ends it
// in good order.
func keep(arguments) error {
	k, err := outputs.New(outputs.Options{
		Lines:  gpiochip.Linux{},
		Stop:   &outputs.StopRelay{Output: outputs.Output{Line: gpiochip.Line{Name: "RELAY"}}},
		Beacon: &outputs.Output{Line: gpiochip.Line{Name: "BEACON"}, ActiveLow: true},
	})
	if err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	var stalled atomic.Bool
	go stallOn(&stalled)
	go tick(ctx, k, &stalled)
	fmt.Println("keeping")
	err = k.Run(ctx)
	fmt.Println("kept")
	return err
}

func stallOn(stalled *atomic.Bool) {
	c := make(chan os.Signal, 1)
	signal.Notify(c, syscall.SIGUSR1)
	<-c
	stalled.Store(true)
	fmt.Println("stalled")
}

// tick refreshes ten times a second.
func tick(ctx context.Context, k *outputs.Keeper, stalled *atomic.Bool) {
	flash := outputs.Pattern{On: 250 * time.Millisecond, Off: 250 * time.Millisecond}
	dropped := false
	for ctx.Err() == nil {
		if !stalled.Load() {
			k.Refresh(outputs.Command{Signal: outputs.Signal{Beacon: flash}, Run: true})
			alive()
		}
		if d := k.Dropped(); d != dropped {
			dropped = d
			fmt.Println("dropped", d)
		}
		time.Sleep(100 * time.Millisecond)
	}
}
