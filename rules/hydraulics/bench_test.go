package hydraulics_test

import (
	"testing"

	"headroom/rules/hydraulics"
)

var (
	cool = hydraulics.Water{DensityKgM3: 998.206092, ViscosityPaS: 0.00100159685}
	hose = hydraulics.Pipe{LengthM: 15.24, BoreM: hydraulics.Bore34InM, RoughnessM: hydraulics.RubberHoseRoughnessM, MinorK: 3}
)

func BenchmarkFriction(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		hydraulics.Friction(37000, 0.0005)
	}
}

func BenchmarkPipeLoss(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		hydraulics.PipeLoss(hose, cool, 6.3e-4)
	}
}

func BenchmarkFlowForLoss(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		hydraulics.FlowForLoss(hose, cool, 50e3)
	}
}
