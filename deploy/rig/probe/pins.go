//go:build rig && linux

package main

import (
	"fmt"
	"time"

	"headroom/sensors/gpiochip"
)

// edges counts rising edges until the pin was quiet for a while, and what the
// kernel's sequence numbers say is missing between them.
func edges(a arguments) error {
	in, err := gpiochip.Linux{}.Input(gpiochip.InputRequest{
		Line: gpiochip.Line{Name: a.text(0)}, Consumer: "probe", Edges: gpiochip.Rising, Buffer: a.number(1),
	})
	if err != nil {
		return err
	}
	defer in.Close()
	idle := time.Duration(a.number(2)) * time.Millisecond
	fmt.Println("armed")
	time.Sleep(time.Duration(a.number(3)) * time.Millisecond)
	var seen, lost, last uint32
	var first, final time.Duration
	for buf := make([]gpiochip.Event, 256); ; {
		n, err := in.Read(buf, idle)
		if err != nil {
			return err
		}
		if n == 0 && seen > 0 {
			fmt.Printf("edges seen %d lost %d last %d span %.3f\n", seen, lost, last, (final - first).Seconds())
			return nil
		}
		for _, e := range buf[:n] {
			if seen == 0 {
				first = e.At
			}
			lost += e.LineSeq - last - 1
			last, final = e.LineSeq, e.At
			seen++
		}
	}
}

// hold switches an output on for as long as it lives and says so to whoever
// watches; once, also that the line is gone.
func hold(a arguments) error {
	out, err := gpiochip.Linux{}.Output(gpiochip.OutputRequest{Line: gpiochip.Line{Name: a.text(0)}, Consumer: "probe", Initial: true})
	if err != nil {
		return err
	}
	defer out.Close()
	alive()
	fmt.Println("holding")
	for gone := false; ; {
		alive()
		if err := out.Alive(); err != nil && !gone {
			gone = true
			fmt.Println("gone", err)
		}
		time.Sleep(200 * time.Millisecond)
	}
}
