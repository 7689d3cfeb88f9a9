package water_test

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
	"headroom/rules/water"
)

// gridScript prints saturation pairs and liquid states from python3-iapws, by
// its public classes only. Saturation stops at 623.15 K: above it the class
// answers from region 3 and not from the equation of region 4.
const gridScript = `
from iapws import IAPWS97
for i in range(0, 36):
    T = 273.15 + 10*i
    s = IAPWS97(T=T, x=0)
    print("sat", repr(float(T)), repr(s.P*1e6), 0, 0, 0, 0)
def grid(temps, press):
    for T in temps:
        for P in press:
            if T < 623.15 and P <= IAPWS97(T=T, x=0).P: continue
            s = IAPWS97(T=T, P=P)
            if s.region != 1: continue
            print("liq", repr(float(T)), repr(P*1e6), repr(s.rho), repr(s.cp*1e3), repr(s.h*1e3), repr(s.w), repr(s.mu))
grid([273.15+2.5*i for i in range(41)], [0.002, 0.02, 0.101325, 0.3, 0.5, 0.8, 1.0])
grid([273.15+25*i for i in range(15)], [0.05, 3, 10, 30, 80, 100])
`

// iapwsPython returns an interpreter that has the iapws module. The one of the
// distribution comes first, since the PATH often has another without it.
func iapwsPython(t *testing.T) string {
	t.Helper()
	for _, p := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(p, "-c", "import iapws").Run() == nil {
			return p
		}
	}
	testneed.Missing(t, "needs Python's module iapws (Debian package python3-iapws)")
	return ""
}

func runGrid(t *testing.T) [][]float64 {
	t.Helper()
	var out, errs bytes.Buffer
	cmd := exec.Command(iapwsPython(t), "-c", gridScript)
	cmd.Stdout, cmd.Stderr = &out, &errs
	require.NoError(t, cmd.Run(), errs.String())
	var rows [][]float64
	for s := bufio.NewScanner(&out); s.Scan(); {
		var kind string
		r := make([]float64, 7)
		_, err := fmt.Sscan(s.Text(), &kind, &r[0], &r[1], &r[2], &r[3], &r[4], &r[5])
		require.NoError(t, err, s.Text())
		if kind == "liq" {
			_, err = fmt.Sscan(s.Text(), &kind, &r[0], &r[1], &r[2], &r[3], &r[4], &r[5], &r[6])
			require.NoError(t, err, s.Text())
		}
		rows = append(rows, r)
	}
	return rows
}

// TestAgainstReferenceLibrary runs Debian's python3-iapws, an independent
// implementation of the same releases, over a grid of the whole range, and
// reports the worst deviation. The aim is 1e-4; the same formula in the same
// double precision, which is 1e-16 with some cancellation among 34 terms,
// should do far better, so a lost digit fails at 1e-11 already.
func TestAgainstReferenceLibrary(t *testing.T) {
	const allowed = 1e-11
	worst := map[string]float64{}
	note := func(what string, want, got, floor float64, row []float64) {
		d := math.Abs(got-want) / math.Max(math.Abs(want), floor)
		require.LessOrEqual(t, d, allowed, "%s at %v: library %v, got %v", what, row[:2], want, got)
		worst[what] = math.Max(worst[what], d)
	}
	liquid := 0
	for _, r := range runGrid(t) {
		if r[2] == 0 {
			pa, ok := water.SatPressurePa(r[0])
			require.True(t, ok)
			note("saturation pressure", r[1], pa, 0, r)
			k, ok := water.SatTempK(pa)
			require.True(t, ok)
			note("saturation temperature", r[0], k, 0, r)
			continue
		}
		liquid++
		p, ok := water.Props(r[0], r[1])
		require.True(t, ok, r)
		note("density", r[2], p.DensityKgM3, 0, r)
		note("heat capacity", r[3], p.SpecificHeatJKgK, 0, r)
		note("enthalpy", r[4], p.EnthalpyJKg, 4200, r)
		note("speed of sound", r[5], p.SoundSpeedMS, 0, r)
		note("viscosity", r[6], p.ViscosityPaS, 0, r)
	}
	require.Greater(t, liquid, 300)
	t.Logf("%d liquid states, worst relative deviations: %v", liquid, worst)
}
