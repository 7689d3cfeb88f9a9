//go:build !linux

package adc

import "time"

// nap has no precise sleep on this system; block sampling may be uneven.
func nap(d time.Duration) { time.Sleep(d) }
