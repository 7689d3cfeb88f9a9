//go:build linux && amd64

package main

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// The kernel's own record of what was done to pins: a witness that doesn't
// pass through the simulated chip nor through the program under test.
const tracing = "/sys/kernel/tracing/"

func traceOn() error {
	if err := os.WriteFile(tracing+"trace", nil, 0); err != nil {
		return fmt.Errorf("cannot clear the trace: %w", err)
	}
	return put(tracing+"events/gpio/enable", "1")
}

// traceRead returns the events since traceOn on one pin, as "SECONDS set 1" or
// "SECONDS out 0", and clears nothing.
func traceRead(name string) ([]string, error) {
	number, err := globalNumber(name)
	if err != nil {
		return nil, err
	}
	f, err := os.Open(tracing + "trace")
	if err != nil {
		return nil, fmt.Errorf("cannot read the trace: %w", err)
	}
	defer f.Close()
	var events []string
	for sc := bufio.NewScanner(f); sc.Scan(); {
		if e, ok := traceEvent(sc.Text(), number); ok {
			events = append(events, e)
		}
	}
	return events, nil
}

// traceEvent takes a line such as
// "init-1 [000] ..... 1.234567: gpio_value: 509 set 1" apart.
func traceEvent(line string, number int) (string, bool) {
	head, tail, ok := strings.Cut(line, ": gpio_")
	if !ok {
		return "", false
	}
	words := strings.Fields(strings.ReplaceAll(tail, ":", " "))
	if len(words) < 3 || words[1] != strconv.Itoa(number) {
		return "", false
	}
	at := strings.Fields(head)
	return fmt.Sprintf("%s %s", at[len(at)-1], strings.Join(words[2:], " ")), true
}

// globalNumber is a pin's number in the kernel's old count over all chips,
// which the trace still uses.
func globalNumber(name string) (int, error) {
	bases, _ := filepath.Glob("/sys/class/gpio/gpiochip*/label")
	for _, b := range bases {
		if text(b) != "pinctrl-bcm2835" {
			continue
		}
		base, err := strconv.Atoi(text(filepath.Join(filepath.Dir(b), "base")))
		if err != nil {
			return 0, fmt.Errorf("cannot read the chip's base: %w", err)
		}
		for i, n := range pinNames {
			if n == name {
				return base + i, nil
			}
		}
	}
	return 0, fmt.Errorf("there is no pin %q", name)
}
