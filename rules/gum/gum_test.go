package gum_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/gum"
)

func TestStudentT(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		level, dof, want float64
		source           string
	}{
		{0.95, 1, 12.71, "JCGM 100 table G.2, from memory"},
		{0.6827, 1, 1.84, "JCGM 100 table G.2, from memory"},
		{0.9973002, 1, 235.80, "three sigma, JCGM 100 table G.2, from memory"},
		{0.95, 2, 4.30, "JCGM 100 table G.2, from memory"},
		{0.99, 3, 5.84, "JCGM 100 table G.2, from memory"},
		{0.9545, 5, 2.65, "JCGM 100 table G.2, from memory"},
		{0.90, 10, 1.81, "JCGM 100 table G.2, from memory"},
		{0.95, 10, 2.23, "JCGM 100 table G.2, from memory"},
		{0.9973, 10, 3.96, "JCGM 100 table G.2, from memory"},
		{0.95, 50, 2.01, "JCGM 100 table G.2, from memory"},
		{0.95, 100, 1.984, "JCGM 100 table G.2, from memory"},
		{0.95, 1e4, 1.960, "tables of Student's t, from memory"},
		{0.95, inf, 1.960, "JCGM 100 table G.2, from memory"},
		{0.99, inf, 2.576, "JCGM 100 table G.2, from memory"},
		{0.9973, inf, 3.000, "JCGM 100 table G.2, from memory"},
	} {
		got, ok := gum.StudentT(c.level, c.dof)
		require.True(t, ok)
		require.InDelta(t, c.want, got, 0.0051, "%v %v: %s", c.level, c.dof, c.source)
	}
	// Source: closed forms of the t distribution of 1 and 2 degrees of freedom.
	for _, p := range []float64{0.1, 0.5, 0.9, 0.999} {
		one, _ := gum.StudentT(p, 1)
		require.InEpsilon(t, math.Tan(math.Pi*p/2), one, 1e-9)
		two, _ := gum.StudentT(p, 2)
		require.InEpsilon(t, p*math.Sqrt(2/(1-p*p)), two, 1e-9)
	}
	for _, bad := range [][2]float64{{0, 5}, {1, 5}, {0.95, 0.5}, {math.NaN(), 5}, {0.95, math.NaN()}} {
		_, ok := gum.StudentT(bad[0], bad[1])
		require.False(t, ok, bad)
	}
}

func TestTheTwoFormsOfStudentMeet(t *testing.T) {
	below, _ := gum.StudentT(0.99, 2000)
	above, _ := gum.StudentT(0.99, 2000.001)
	require.InDelta(t, below, above, 1e-6)
}

func TestInsideF(t *testing.T) {
	for _, c := range []struct {
		f, d1, d2, want float64
		source          string
	}{
		{161.4, 1, 1, 0.95, "tables of F, from memory"},
		{4.96, 1, 10, 0.95, "tables of F, from memory"},
		{2.98, 10, 10, 0.95, "tables of F, from memory"},
		{4.85, 10, 10, 0.99, "tables of F, from memory"},
		{1, 7, 7, 0.5, "symmetry"},
	} {
		got, ok := gum.InsideF(c.f, c.d1, c.d2)
		require.True(t, ok)
		require.InDelta(t, c.want, got, 6e-4, c.source)
	}
}

func TestParts(t *testing.T) {
	require.InDelta(t, 0.29, gum.Resolution(1).Std, 0.002, "JCGM 100 F.2.2.1: 0.29 of the step")
	_, ok := gum.ScatterOfMean(1, 1)
	require.False(t, ok, "one reading says nothing of its scatter")
	_, _, ok = gum.Mean([]float64{1, math.NaN()})
	require.False(t, ok)
}

// TestOneRectangle is JCGM 100, G.2.2 note and 6.3.3: where one rectangular
// error rules, 95 % is 1.65 standard uncertainties, and two equal ones make a
// triangle.
func TestOneRectangle(t *testing.T) {
	var b gum.Budget
	b.Input("class", 10, gum.Limits(1))
	r, ok := b.Linear(10, []float64{1})
	require.True(t, ok)
	i, ok := r.Expand(0.95)
	require.True(t, ok)
	require.InDelta(t, 0.95, i.U, 0.005)
	require.InDelta(t, 1.65, i.K, 0.01)

	b.Input("another", 0, gum.Limits(1))
	r, _ = b.Linear(10, []float64{1, 1})
	i, _ = r.Expand(0.95)
	require.InDelta(t, 2*(1-math.Sqrt(0.05)), i.U, 0.01, "a triangle of half-width 2")
}

// TestExpandAgainstMonteCarlo draws the errors and counts, as JCGM 101 does.
func TestExpandAgainstMonteCarlo(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name                 string
		normal, dof          float64
		rectangles           []float64
		tolerance, atLeastDF float64
	}{
		{"normal alone", 1, 0, nil, 0.02, 0},
		{"one rectangle and little noise", 0.1, 0, []float64{1}, 0.02, 0},
		{"class and noise alike", 0.6, 0, []float64{1}, 0.02, 0},
		{"few readings and a class", 0.5, 8, []float64{1}, 0.03, 0},
		{"three classes", 0.2, 20, []float64{1, 0.7, 0.4}, 0.02, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			var b gum.Budget
			b.Input("noise", 5, gum.Part{Std: c.normal, DoF: c.dof})
			coeffs := []float64{1}
			for _, h := range c.rectangles {
				b.Input("class", 0, gum.Limits(h))
				coeffs = append(coeffs, 1)
			}
			r, ok := b.Linear(5, coeffs)
			require.True(t, ok)
			i, ok := r.Expand(0.95)
			require.True(t, ok)
			want := monteCarlo(rng, c.normal, c.dof, c.rectangles)
			require.InEpsilon(t, want, i.U, c.tolerance)
		})
	}
}

// monteCarlo is the 95 % half-width of drawn sums.
func monteCarlo(rng *rand.Rand, normal, dof float64, rectangles []float64) float64 {
	const n = 200_000
	draws := make([]float64, n)
	for k := range draws {
		z := normal * rng.NormFloat64()
		if dof > 0 {
			chi := 0.0
			for range int(dof) {
				g := rng.NormFloat64()
				chi += g * g
			}
			z *= math.Sqrt(dof / chi)
		}
		for _, h := range rectangles {
			z += h * (2*rng.Float64() - 1)
		}
		draws[k] = math.Abs(z)
	}
	slices.Sort(draws)
	return draws[n*95/100]
}

func TestFullCorrelation(t *testing.T) {
	// JCGM 100, 5.2.2 note 1: ten resistors of 1000 ohm, calibrated against one
	// standard of 100 mohm: the errors add, 1 ohm and not 0.32 ohm.
	var b gum.Budget
	coeffs := make([]float64, 10)
	for i := range 10 {
		b.Input("", 1000, gum.Part{Std: 0.1})
		coeffs[i] = 1
		for j := range i {
			require.True(t, b.Correlate(i, j, 1))
		}
	}
	r, ok := b.Linear(10000, coeffs)
	require.True(t, ok)
	require.InDelta(t, 1, r.Std, 1e-9)
}

// TestEvaluateIsLinearForLines: numeric coefficients of a line are the line's.
func TestEvaluateIsLinearForLines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "n")
		var b gum.Budget
		c := make([]float64, n)
		y := 0.0
		for i := range n {
			x := rapid.Float64Range(-100, 100).Draw(t, "x")
			c[i] = rapid.Float64Range(-5, 5).Draw(t, "c")
			p := gum.Part{Std: rapid.Float64Range(0.01, 3).Draw(t, "u"), DoF: rapid.Float64Range(1, 60).Draw(t, "dof"),
				Shape: rapid.SampledFrom([]gum.Shape{gum.Normal, gum.Rectangular}).Draw(t, "shape")}
			b.Input("", x, p)
			y += c[i] * x
		}
		want, ok := b.Linear(y, c)
		require.True(t, ok)
		got, ok := b.Evaluate(func(x []float64) (float64, bool) {
			s := 0.0
			for i := range x {
				s += c[i] * x[i]
			}
			return s, true
		})
		require.True(t, ok)
		require.InDelta(t, want.Std, got.Std, 1e-9*(1+want.Std))
		if want.Std > 1e-6 && want.DoF >= 1 {
			u95, ok95 := want.Expand(0.95)
			u99, ok99 := want.Expand(0.99)
			require.True(t, ok95 && ok99)
			require.Less(t, u95.U, u99.U)
			require.Greater(t, u95.K, 1.0)
		}
	})
}

func TestWithAddsAnErrorOfTheModel(t *testing.T) {
	var b gum.Budget
	b.Input("a", 1, gum.Part{Std: 3})
	r, _ := b.Linear(1, []float64{1})
	r = r.With("model", gum.Part{Std: 4})
	require.InDelta(t, 5, r.Std, 1e-12)
	require.Len(t, r.Terms(), 2)
}

func TestRefusals(t *testing.T) {
	var b gum.Budget
	b.Input("a", math.NaN(), gum.Part{Std: 1})
	_, ok := b.Evaluate(func(x []float64) (float64, bool) { return 1, true })
	require.False(t, ok)
	var c gum.Budget
	c.Input("a", 1, gum.Part{Std: -1})
	_, ok = c.Linear(1, []float64{1})
	require.False(t, ok)
	_, ok = c.Linear(1, nil)
	require.False(t, ok)
	require.False(t, c.Correlate(0, 0, 1))
	_, ok = gum.FitLine([]float64{1, 1, 1}, []float64{1, 2, 3})
	require.False(t, ok)
}

func FuzzExpand(f *testing.F) {
	f.Add(1.0, 0.5, 8.0, 1.0, 0.95)
	f.Add(0.0, 0.0, 0.0, 0.0, 0.5)
	f.Add(1e300, 1e-300, 1.0, 1e300, 0.9999)
	f.Fuzz(func(t *testing.T, x, u, dof, half, level float64) {
		var b gum.Budget
		b.Input("a", x, gum.Part{Std: u, DoF: dof}, gum.Limits(half))
		r, ok := b.Linear(x, []float64{1})
		if !ok {
			return
		}
		i, ok := r.Expand(level)
		if ok && (math.IsNaN(i.U) || math.IsInf(i.U, 0) || i.U < 0) {
			t.Fatalf("%v %v %v %v %v: U = %v", x, u, dof, half, level, i.U)
		}
		if !ok && i != (gum.Interval{}) {
			t.Fatalf("values without ok: %+v", i)
		}
	})
}

func BenchmarkExpand(b *testing.B) {
	var g gum.Budget
	g.Input("noise", 5, gum.Part{Std: 0.3, DoF: 20})
	g.Input("class", 0, gum.Limits(1))
	g.Input("class", 0, gum.Limits(0.7))
	r, _ := g.Linear(5, []float64{1, 1, 1})
	b.ReportAllocs()
	for b.Loop() {
		_, _ = r.Expand(0.95)
	}
}
