package water

const (
	// gasConstant is the specific gas constant of water of R7-97, J/(kg K).
	gasConstant = 461.526
	// region1StarPa and region1StarK reduce pressure and temperature in
	// region 1 (R7-97 section 5.1).
	region1StarPa = 16.53e6
	region1StarK  = 1386
	// piShift and tauShift are the shifts of the series of R7-97 eq. 7.
	piShift  = 7.1
	tauShift = 1.222
)

// The exponents of the series run over these bounds.
const (
	maxI = 32
	minJ = -41
	maxJ = 17
)

// term is one row of R7-97 Table 2.
type term struct {
	i, j int
	n    float64
}

// region1Terms is R7-97 Table 2. It is never written.
var region1Terms = [34]term{
	{0, -2, 0.14632971213167}, {0, -1, -0.84548187169114},
	{0, 0, -0.37563603672040e1}, {0, 1, 0.33855169168385e1},
	{0, 2, -0.95791963387872}, {0, 3, 0.15772038513228},
	{0, 4, -0.16616417199501e-1}, {0, 5, 0.81214629983568e-3},
	{1, -9, 0.28319080123804e-3}, {1, -7, -0.60706301565874e-3},
	{1, -1, -0.18990068218419e-1}, {1, 0, -0.32529748770505e-1},
	{1, 1, -0.21841717175414e-1}, {1, 3, -0.52838357969930e-4},
	{2, -3, -0.47184321073267e-3}, {2, 0, -0.30001780793026e-3},
	{2, 1, 0.47661393906987e-4}, {2, 3, -0.44141845330846e-5},
	{2, 17, -0.72694996297594e-15}, {3, -4, -0.31679644845054e-4},
	{3, 0, -0.28270797985312e-5}, {3, 6, -0.85205128120103e-9},
	{4, -5, -0.22425281908000e-5}, {4, -2, -0.65171222895601e-6},
	{4, 10, -0.14341729937924e-12}, {5, -8, -0.40516996860117e-6},
	{8, -11, -0.12734301741641e-8}, {8, -6, -0.17424871230634e-9},
	{21, -29, -0.68762131295531e-18}, {23, -31, 0.14478307828521e-19},
	{29, -38, 0.26335781662795e-22}, {30, -39, -0.11947622640071e-22},
	{31, -40, 0.18228094581404e-23}, {32, -41, -0.93537087292458e-25},
}

// gibbs holds the derivatives of the dimensionless Gibbs energy of region 1
// with respect to reduced pressure (p) and inverse reduced temperature (t).
type gibbs struct {
	tau              float64
	p, pp, t, tt, pt float64
}

// newGibbs evaluates the derivatives of R7-97 Table 4. The powers are built
// once by repeated products, since 34 terms share 59 of them; each derivative
// differs from the term itself only by its exponents and one division, which
// is done on the sums.
func newGibbs(tempK, absPa float64) gibbs {
	a := piShift - absPa/region1StarPa
	tau := region1StarK / tempK
	b := tau - tauShift
	var pa [maxI + 1]float64
	var pb [maxJ - minJ + 1]float64
	powers(a, b, &pa, &pb)

	var si, sii, sj, sjj, sij float64
	for k := range region1Terms {
		t := &region1Terms[k]
		c := t.n * pa[t.i] * pb[t.j-minJ]
		i, j := float64(t.i), float64(t.j)
		ci, cj := float64(c*i), float64(c*j)
		si += ci
		sj += cj
		sii += float64(ci * (i - 1))
		sjj += float64(cj * (j - 1))
		sij += float64(ci * j)
	}
	return gibbs{
		tau: tau,
		p:   -si / a, pp: sii / (a * a),
		t: sj / b, tt: sjj / (b * b),
		pt: -sij / (a * b),
	}
}

// powers fills a^0..a^32 and b^-41..b^17.
func powers(a, b float64, pa *[maxI + 1]float64, pb *[maxJ - minJ + 1]float64) {
	pa[0] = 1
	for k := 1; k <= maxI; k++ {
		pa[k] = pa[k-1] * a
	}
	pb[-minJ] = 1
	for k := 1; k <= maxJ; k++ {
		pb[k-minJ] = pb[k-1-minJ] * b
	}
	inv := 1 / b
	for k := -1; k >= minJ; k-- {
		pb[k-minJ] = pb[k+1-minJ] * inv
	}
}

// volume is R7-97 Table 3 in m3/kg. It is written without a division by the
// pressure, so that it also holds at the table's node of 0 Pa.
func (g gibbs) volume(tempK float64) float64 {
	return gasConstant * tempK * g.p / region1StarPa
}

// enthalpy is R7-97 Table 3 in J/kg, 0 near the triple point.
func (g gibbs) enthalpy() float64 { return gasConstant * region1StarK * g.t }

// heatCapacity is R7-97 Table 3 in J/(kg K), at constant pressure.
func (g gibbs) heatCapacity() float64 { return -gasConstant * g.tau * g.tau * g.tt }

// soundSpeedSquared is R7-97 Table 3 in m2/s2.
func (g gibbs) soundSpeedSquared(tempK float64) float64 {
	d := g.p - float64(g.tau*g.pt)
	q := d * d / (g.tau * g.tau * g.tt)
	return gasConstant * tempK * g.p * g.p / (q - g.pp)
}
