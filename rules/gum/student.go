package gum

import (
	"math"

	"headroom/rules/detmath"
)

// The range of StudentT.
const (
	minDoF   = 1
	maxLevel = 0.9999
	// normalDoF is where the t distribution is taken by its expansion about
	// the normal one; the next term is below 1e-6 there.
	normalDoF = 2000
)

// StudentT returns the two-sided coverage factor: the t within which the given
// share of Student's distribution lies. The level is above 0 and up to 0.9999,
// the degrees of freedom 1 or more, also not whole; infinity gives the normal
// distribution.
// Source: JCGM 100:2008, G.3 and table G.2; the incomplete beta function as in
// Abramowitz and Stegun, 26.7.1 and 26.5.8.
func StudentT(level, dof float64) (t float64, ok bool) {
	if !(level > 0 && level <= maxLevel) || !(dof >= minDoF) {
		return 0, false
	}
	if dof > normalDoF {
		z := normalQuantile(level)
		if math.IsInf(dof, 1) {
			return z, true
		}
		z3 := float64(z * z * z)
		z5 := float64(z3 * z * z)
		return z + (z3+z)/float64(4*dof) + (float64(5*z5)+float64(16*z3)+float64(3*z))/float64(96*dof*dof), true
	}
	tail := tailOfT(dof)
	lo, hi := 0.0, 1e5
	for range 100 {
		mid := (lo + hi) / 2
		if 1-tail(mid) < level {
			lo = mid
		} else {
			hi = mid
		}
		if hi-lo < 1e-12*hi {
			break
		}
	}
	return (lo + hi) / 2, true
}

// tailOfT returns the two-sided tail as a function of t.
func tailOfT(dof float64) func(t float64) float64 {
	b := newBeta(dof/2, 0.5)
	return func(t float64) float64 {
		t2 := float64(t * t)
		if math.IsInf(t2, 1) {
			return 0
		}
		return b.inc(dof / (dof + t2))
	}
}

// InsideF returns the share of the F distribution below f, of 0 or more, with
// 1 to 2000 degrees of freedom each; for the comparison of two variances.
// Source: Abramowitz and Stegun, 26.6.2.
func InsideF(f, dof1, dof2 float64) (share float64, ok bool) {
	if !(f >= 0) || !(dof1 >= minDoF && dof1 <= normalDoF) || !(dof2 >= minDoF && dof2 <= normalDoF) {
		return 0, false
	}
	if math.IsInf(f, 1) {
		return 1, true
	}
	return 1 - newBeta(dof2/2, dof1/2).inc(dof2/(dof2+float64(dof1*f))), true
}

// beta is the regularised incomplete beta function of a and b, by its
// continued fraction. Source: Abramowitz and Stegun, 26.5.8.
type beta struct{ a, b, logB float64 }

func newBeta(a, b float64) beta { return beta{a, b, lgamma(a) + lgamma(b) - lgamma(a+b)} }

// inc is I_x(a, b).
func (f beta) inc(x float64) float64 {
	switch {
	case x <= 0:
		return 0
	case x >= 1:
		return 1
	case x > (f.a+1)/(f.a+f.b+2):
		return 1 - beta{f.b, f.a, f.logB}.inc(1-x)
	}
	front := detmath.Exp(float64(f.a*detmath.Log(x)) + float64(f.b*detmath.Log(1-x)) - f.logB)
	return float64(front*betaFraction(f.a, f.b, x)) / f.a
}

// betaFraction evaluates the continued fraction by Lentz's method.
func betaFraction(a, b, x float64) float64 {
	const tiny = 1e-300
	c, d := 1.0, 1/away(1-float64((a+b)*x)/(a+1), tiny)
	h := d
	for m := 1.0; m < 500; m++ {
		even := float64(m*(b-m)*x) / float64((a+float64(2*m)-1)*(a+float64(2*m)))
		d = 1 / away(1+float64(even*d), tiny)
		c = away(1+even/c, tiny)
		h = float64(h * d * c)
		odd := -float64((a+m)*(a+b+m)*x) / float64((a+float64(2*m))*(a+float64(2*m)+1))
		d = 1 / away(1+float64(odd*d), tiny)
		c = away(1+odd/c, tiny)
		step := float64(d * c)
		h = float64(h * step)
		if math.Abs(step-1) < 1e-15 {
			break
		}
	}
	return h
}

// away keeps a denominator from being 0.
func away(x, tiny float64) float64 {
	if math.Abs(x) < tiny {
		return tiny
	}
	return x
}

// lgamma is the logarithm of the gamma function for arguments of 0.5 and more:
// Stirling's series after the argument is raised to 10 or more.
// Source: Abramowitz and Stegun, 6.1.15 and 6.1.41.
func lgamma(x float64) float64 {
	down := 0.0
	for x < 10 {
		down += detmath.Log(x)
		x++
	}
	i := 1 / x
	i2 := float64(i * i)
	series := float64(i * (1.0/12 - float64(i2*(1.0/360-float64(i2*(1.0/1260-i2/1680))))))
	const halfLog2Pi = 0.91893853320467274178
	return float64((x-0.5)*detmath.Log(x)) - x + halfLog2Pi + series - down
}

// insideNormal is the share of the normal distribution within plus or minus z.
// Source: Abramowitz and Stegun, 26.2.11.
func insideNormal(z float64) float64 {
	if z > 8 {
		return 1
	}
	term, sum := z, z
	for n := 3.0; n < 400; n += 2 {
		term = float64(term*z) * z / n
		sum += term
		if term < 1e-17*sum {
			break
		}
	}
	const rootTwoOverPi = 0.79788456080286535588
	return math.Min(1, float64(rootTwoOverPi*detmath.Exp(-float64(z*z)/2))*sum)
}

func normalQuantile(level float64) float64 {
	lo, hi := 0.0, 8.0
	for range 70 {
		mid := (lo + hi) / 2
		if insideNormal(mid) < level {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
