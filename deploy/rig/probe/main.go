//go:build rig && linux

// Probe is the program under test until the daemon takes its place: it runs
// one driver, or one bare piece of a bus, and prints what it sees as lines. It
// decides nothing and refuses to try again by itself: what the tests on the
// host read is what the driver said. The first word on its command line
// chooses:
//
//	edges  LINE BUFFER IDLE-MS STALL-MS     events of a pin, with the kernel's counts
//	hold   LINE                             an output that is on while the program lives
//	volts  BUS                              the converter, bare, over periph
//	keep                                    relay and beacon through package outputs
//	both   LINE BUS                         hold and volts at once
//	drive  KIND...                          the drivers, through supervisor and board
package main

import (
	"fmt"
	"net"
	"os"
	"strconv"
)

var modes = map[string]func(arguments) error{
	"edges": edges,
	"hold":  hold,
	"volts": volts,
	"both":  both,
	"keep":  keep,
	"drive": drive,
}

func main() {
	if len(os.Args) < 2 || modes[os.Args[1]] == nil {
		fmt.Println("probe: no such mode")
		os.Exit(2)
	}
	if err := modes[os.Args[1]](os.Args[2:]); err != nil {
		fmt.Println("probe failed:", err)
		os.Exit(1)
	}
}

type arguments []string

// text returns word i, or nothing.
func (a arguments) text(i int) string {
	if i >= len(a) {
		return ""
	}
	return a[i]
}

// number returns word i as a number, or 0.
func (a arguments) number(i int) int {
	n, err := strconv.Atoi(a.text(i))
	if err != nil {
		return 0
	}
	return n
}

// alive tells the service manager that the program still moves.
func alive() {
	socket := os.Getenv("NOTIFY_SOCKET")
	if socket == "" {
		return
	}
	c, err := net.Dial("unixgram", socket)
	if err != nil {
		return
	}
	defer c.Close()
	_, _ = c.Write([]byte("WATCHDOG=1"))
}
