package water_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/water"
)

var (
	sinkProps water.Properties
	sinkFloat float64
)

func BenchmarkProps(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		sinkProps, _ = water.Props(291.65, 2.5e5)
	}
}

func BenchmarkTableAt(b *testing.B) {
	tab := water.NewTable()
	b.ReportAllocs()
	for b.Loop() {
		sinkProps, _ = tab.At(291.65, 2.5e5)
	}
}

func BenchmarkSatPressure(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		sinkFloat, _ = water.SatPressurePa(291.65)
	}
}

func BenchmarkSatTemp(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		sinkFloat, _ = water.SatTempK(2.5e5)
	}
}

func BenchmarkNewTable(b *testing.B) {
	for b.Loop() {
		_ = water.NewTable()
	}
}

// TestNoAllocation holds what the tick relies on.
func TestNoAllocation(t *testing.T) {
	tab := water.NewTable()
	require.Zero(t, testing.AllocsPerRun(100, func() {
		sinkProps, _ = water.Props(291.65, 2.5e5)
		sinkProps, _ = tab.At(291.65, 2.5e5)
		sinkFloat, _ = water.SatPressurePa(291.65)
	}))
}
