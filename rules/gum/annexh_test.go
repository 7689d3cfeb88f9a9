package gum_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/gum"
)

// The worked examples of JCGM 100:2008, annex H. The printed values and the raw
// readings are quoted from memory; where the raw readings are printed, the
// results are computed from them again here, so that a wrong memory of either
// would show.

func part(std, dof float64) gum.Part { return gum.Part{Std: std, DoF: dof} }

// TestEndGauge is H.1: the length of a nominal 50 mm end gauge, in nm.
func TestEndGauge(t *testing.T) {
	const ls = 50.000623e6
	var b gum.Budget
	b.Input("standard", ls, part(25, 18))
	b.Input("comparator, scatter", 215, part(5.8, 24))
	b.Input("comparator, random", 0, part(3.9, 5))
	b.Input("comparator, systematic", 0, part(6.7, 8))
	b.Input("difference of expansion", 0, part(0.58e-6, 50))
	b.Input("difference of temperature", 0, part(0.029, 2))
	const alpha, theta = 11.5e-6, -0.1
	r, ok := b.Linear(ls+215, []float64{1, 1, 1, 1, -ls * theta, -ls * alpha})
	require.True(t, ok)
	require.InDelta(t, 50.000838e6, r.Value, 0.5, "H.1.5")
	require.InDelta(t, 32, r.Std, 0.5, "equation (H.6)")
	require.Equal(t, 16.0, math.Floor(r.DoF), "H.1.6")
	i, ok := r.ByStudent(0.99)
	require.True(t, ok)
	require.InDelta(t, 2.92, i.K, 0.005, "t99(16)")
	require.InDelta(t, 93, i.U, 1, "H.1.7")
	require.Equal(t, "standard", r.Terms()[0].Name)
}

// TestResistanceAndReactance is H.2, from the five sets of readings of table
// H.2: volts, milliamperes, radians.
func TestResistanceAndReactance(t *testing.T) {
	v := []float64{5.007, 4.994, 5.005, 4.990, 4.999}
	i := []float64{19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3}
	phi := []float64{1.0456, 1.0438, 1.0468, 1.0428, 1.0433}
	var b gum.Budget
	for _, x := range [][]float64{v, i, phi} {
		m, p, ok := gum.Mean(x)
		require.True(t, ok)
		b.Input("", m, p)
	}
	for _, c := range []struct {
		i, j int
		x, y []float64
		want float64
	}{{0, 1, v, i, -0.36}, {0, 2, v, phi, 0.86}, {1, 2, i, phi, -0.65}} {
		_, r, ok := gum.Covariance(c.x, c.y)
		require.True(t, ok)
		require.InDelta(t, c.want, r, 0.006, "table H.2")
		require.True(t, b.Correlate(c.i, c.j, r))
	}
	models := []struct {
		name      string
		f         gum.Model
		value, u  float64
		tolU      float64
		coeffs    []float64
		corrWithR float64
	}{
		{"R", func(x []float64) (float64, bool) { return x[0] / x[1] * math.Cos(x[2]), true }, 127.732, 0.071, 0.0006, nil, 1},
		{"X", func(x []float64) (float64, bool) { return x[0] / x[1] * math.Sin(x[2]), true }, 219.847, 0.295, 0.0006, nil, -0.588},
		{"Z", func(x []float64) (float64, bool) { return x[0] / x[1], true }, 254.260, 0.236, 0.0006, nil, -0.485},
	}
	for k := range models {
		m := &models[k]
		r, ok := b.Evaluate(m.f)
		require.True(t, ok, m.name)
		require.InDelta(t, m.value, r.Value, 0.0006, "%s, table H.3", m.name)
		require.InDelta(t, m.u, r.Std, m.tolU, "u(%s), table H.3", m.name)
		m.coeffs, _, ok = b.Sensitivities(m.f)
		require.True(t, ok)
		corr, ok := b.Correlation(models[0].coeffs, m.coeffs)
		require.True(t, ok)
		require.InDelta(t, m.corrWithR, corr, 0.001, "r(R,%s), table H.3", m.name)
	}
	xz, _ := b.Correlation(models[1].coeffs, models[2].coeffs)
	require.InDelta(t, 0.993, xz, 0.001, "r(X,Z), table H.3")
}

// TestThermometerCalibration is H.3, from the eleven readings of table H.6:
// the line of the correction against the temperature over 20 °C.
func TestThermometerCalibration(t *testing.T) {
	temp := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	corr := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	l, ok := gum.FitLine(shift(temp, -20), corr)
	require.True(t, ok)
	require.InDelta(t, -0.1712, l.Intercept, 5e-5, "y1")
	require.InDelta(t, 0.00218, l.Slope, 5e-6, "y2")
	require.InDelta(t, 0.0029, l.InterceptStd, 5e-5, "s(y1)")
	require.InDelta(t, 0.00067, l.SlopeStd, 5e-6, "s(y2)")
	require.InDelta(t, -0.930, l.Corr, 5e-4, "r(y1,y2)")
	require.InDelta(t, 0.0035, l.Spread, 5e-5, "s")
	at, ok := l.At(30 - 20)
	require.True(t, ok)
	require.InDelta(t, -0.1494, at.Value, 5e-5, "b(30 °C), H.3.4")
	require.InDelta(t, 0.0041, at.Std, 5e-5, "u of it")
	require.Equal(t, 9.0, at.DoF)
}

// TestRadonActivity is the last step of H.4: a product of quotients, in Bq/g.
func TestRadonActivity(t *testing.T) {
	var b gum.Budget
	b.Input("standard's activity", 0.1368, part(0.0018, 0))
	b.Input("standard's mass", 5.0192, part(0.0050, 0))
	b.Input("sample's mass", 5.0571, part(0.0010, 0))
	b.Input("ratio of counts", 3.170, part(0.046, 5))
	r, ok := b.Evaluate(func(x []float64) (float64, bool) { return x[0] * x[1] / x[2] * x[3], true })
	require.True(t, ok)
	require.InDelta(t, 0.4304, r.Value, 5e-5, "H.4.3.2")
	require.InDelta(t, 0.0084, r.Std, 5e-5, "H.4.3.2")
}

// TestVoltageStandard is the between-days part of H.5: ten daily means of a
// voltage standard of 10 V, in microvolts over it.
func TestVoltageStandard(t *testing.T) {
	days := []float64{172, 116, 13, 144, 106, 31, 60, 125, 163, 41}
	m, p, ok := gum.Mean(days)
	require.True(t, ok)
	require.InDelta(t, 97.1, m, 0.06, "H.5.2.2")
	require.InDelta(t, 57, p.Std*math.Sqrt(10), 0.5, "s of the daily means")
	require.InDelta(t, 18, p.Std, 0.5, "u of the mean")
	require.Equal(t, 9.0, p.DoF)
}

func shift(x []float64, by float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = x[i] + by
	}
	return out
}
