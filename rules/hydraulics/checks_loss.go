package hydraulics

import "headroom/rules/check"

// libraryCases are losses that an independent library computed.
var libraryCases = [...]struct {
	name string
	p    Pipe
	w    Water
	gpm  float64
	want float64
}{
	{"100 ft of 3/4 in, e 0.01 mm, 10 gpm, 20 C", Pipe{LengthM: 30.48, BoreM: Bore34InM, RoughnessM: 1e-5},
		Water{998.206092, 0.00100159685}, 10, 91290.57742286801},
	{"50 ft of 5/8 in, e 0.0015 mm, 6 gpm, 60 F", Pipe{LengthM: 15.24, BoreM: Bore58InM, RoughnessM: 1.5e-6},
		Water{999.015572, 0.00112103431}, 6, 42628.17746347215},
	{"50 ft of 1 in, e 0.01 mm, 15 gpm, 140 F", Pipe{LengthM: 15.24, BoreM: Bore1InM, RoughnessM: 1e-5},
		Water{983.21061, 0.000466043208}, 15, 20453.20246028482},
	{"100 ft of 3/4 in, smooth, 0.3 gpm (laminar), 20 C", Pipe{LengthM: 30.48, BoreM: Bore34InM},
		Water{998.206092, 0.00100159685}, 0.3, 178.760361269052},
}

func lossPa(p Pipe, w Water, gpm float64) float64 {
	l, ok := PipeLoss(p, w, gpm*m3sPerGpm)
	return orNaN(l.Pa, ok)
}

func pipeLossCheck() check.Quantity {
	q := check.Quantity{
		Name: "pressure loss of a line", Func: "hydraulics.PipeLoss", Unit: "Pa",
		Formula: "dp = (f L/D + K) rho V^2/2", Range: "Re to 1e8, relative roughness to 0.05",
		Source: "Darcy-Weisbach", Tol: 1e-8,
	}
	for _, c := range libraryCases {
		q.Cases = append(q.Cases, check.Case{Name: c.name, Want: c.want,
			Got: lossPa(c.p, c.w, c.gpm), Source: fluidsLib, Origin: check.Library})
	}
	// White: 1.94 slug/ft3, 1.1e-5 ft2/s, friction factor read as 0.020.
	cast := Pipe{LengthM: 200 * mPerFt, BoreM: 0.5 * mPerFt, RoughnessM: 8e-4 * 0.5 * mPerFt}
	const rho = 1.94 * 515.378818
	w := Water{DensityKgM3: rho, ViscosityPaS: rho * 1.1e-5 * mPerFt * mPerFt}
	flow := 6 * mPerFt * orNaN(AreaM2(cast.BoreM)) / m3sPerGpm
	const paPerPsf = paPerPsi / 144
	// Crane: 62.371 lb/ft3, 1.1 cP, 0.00015 ft, friction read from charts.
	steel := Pipe{LengthM: 30.48, BoreM: 2.067 * mPerIn, RoughnessM: 0.00015 * mPerFt}
	sixty := Water{DensityKgM3: 62.371 * 16.01846337, ViscosityPaS: 1.1e-3}
	q.Cases = append(q.Cases,
		check.Case{Name: "200 ft of 6 in cast iron, 6 ft/s (280 lbf/ft2)", Want: 280 * paPerPsf,
			Got: lossPa(cast, w, flow), Source: white, Origin: check.Memory, Tol: 0.02},
		check.Case{Name: "100 ft of 2 in steel, 100 gpm, 60 F (7.59 psi)", Want: 7.59 * paPerPsi,
			Got: lossPa(steel, sixty, 100), Source: craneB14, Origin: check.Memory, Tol: 0.02})
	return q
}

// hoseTableCheck compares with a table that is known to be a square law with
// one rounded coefficient. The tolerance is what two uncertainties allow
// together: 15 percent for any pipe by Colebrook-White, and 15 percent for a
// bore that is 3 percent off its name, since the loss goes with its fifth
// power. Its 5 gpm row is left to a test that states the disagreement.
func hoseTableCheck() check.Quantity {
	q := check.Quantity{
		Name: "pressure loss of a 3/4 inch hose beside a fire-service table", Func: "hydraulics.PipeLoss (hose table)",
		Unit: "psi", Formula: "table: p = 1100 (Q/100)^2 per 100 ft; here: Darcy-Weisbach, e 0.01 mm",
		Range: "10 to 30 gpm; below, a square law is too low", Tol: 0.30,
		Source: "compact hose table of a public friction loss page, rows to 30 gpm",
	}
	hose := Pipe{LengthM: 30.48, BoreM: Bore34InM, RoughnessM: RubberHoseRoughnessM}
	w := Water{DensityKgM3: 999.015572, ViscosityPaS: 0.00112103431}
	for _, c := range []struct {
		name      string
		gpm, want float64
	}{
		{"10 gpm", 10, 11}, {"15 gpm", 15, 24.8}, {"20 gpm", 20, 44}, {"25 gpm", 25, 68.8}, {"30 gpm", 30, 99},
	} {
		q.Cases = append(q.Cases, check.Case{Name: c.name + ", 100 ft, 60 F", Want: c.want,
			Got: lossPa(hose, w, c.gpm) / paPerPsi, Origin: check.Worked})
	}
	return q
}

func minorLossCheck() check.Quantity {
	return check.Quantity{
		Name: "loss of fittings", Func: "hydraulics.MinorLossPa", Unit: "Pa",
		Formula: "dp = K rho V^2/2", Range: "K and V 0 or more", Source: "definition", Tol: 1e-12,
		Cases: []check.Case{
			{Name: "K 1.5, 998.206092 kg/m3, 2.2135 m/s", Want: 3668.0946376537995,
				Got: orNaN(MinorLossPa(1.5, 998.206092, 2.2135)), Source: fluidsLib, Origin: check.Library},
		},
	}
}

func flowForLossCheck() check.Quantity {
	q := check.Quantity{
		Name: "flow at a given loss", Func: "hydraulics.FlowForLoss", Unit: "gpm",
		Formula: "PipeLoss inverted", Range: "as PipeLoss", Source: "Darcy-Weisbach", Tol: 1e-8,
	}
	for _, c := range libraryCases {
		q.Cases = append(q.Cases, check.Case{Name: c.name, Want: c.gpm,
			Got: orNaN(FlowForLoss(c.p, c.w, c.want)) / m3sPerGpm, Source: fluidsLib, Origin: check.Library})
	}
	return q
}
