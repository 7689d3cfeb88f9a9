package dashboard

import (
	"fmt"
	"math"
)

// roughly writes a time that is only a forecast: no more digits than it is
// worth.
func roughly(s float64) string {
	switch {
	case s < 10:
		return fmt.Sprintf("%.0f s", math.Max(s, 1))
	case s < 90:
		return fmt.Sprintf("%.0f s", math.Round(s/5)*5)
	case s < 600:
		half := math.Round(s / 30)
		if math.Mod(half, 2) == 1 {
			return fmt.Sprintf("%.0f½ min", (half-1)/2)
		}
		return fmt.Sprintf("%.0f min", half/2)
	case s < 5400:
		return fmt.Sprintf("%.0f min", math.Round(s/60))
	}
	return "over 1 h"
}

// lasting writes a time that has passed, in whole seconds that do not jump
// ahead.
func lasting(s float64) string {
	n := int64(math.Max(s, 0))
	switch {
	case n < 60:
		return fmt.Sprintf("%d s", n)
	case n < 3600:
		return fmt.Sprintf("%d min %02d s", n/60, n%60)
	}
	return fmt.Sprintf("%d h %02d min", n/3600, n/60%60)
}
