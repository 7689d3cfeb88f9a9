package cord

import "headroom/rules/check"

const (
	table8    = "NFPA 70 (NEC) chapter 9 table 8, stranded uncoated copper at 75 C"
	iec60228  = "IEC 60228 class 5, from memory"
	table4005 = "NFPA 70 (NEC) table 400.5(A)(1)"
)

// Checks returns this package's computed quantities with the outside values
// they are compared with.
func Checks() []check.Quantity {
	return []check.Quantity{resistanceCheck(), dropCheck(), shareCheck(), lengthCheck(), ampacityCheck()}
}

func resistanceCheck() check.Quantity {
	c := func(name string, want float64, g Gauge, tempC float64, src string, o check.Origin, tol float64) check.Case {
		got, _ := OhmPerM(g, zeroCK+tempC)
		return check.Case{Name: name, Want: want, Got: got, Source: src, Origin: o, Tol: tol}
	}
	return check.Quantity{
		Name: "conductor resistance", Func: "cord.OhmPerM", Unit: "ohm/m",
		Formula: "R = R75 (1 + 0.00323 (t - 75)); R = R20 (234.5 + t)/254.5",
		Range:   "18..10 AWG, 0.75..10 mm2; -40..105 C", Source: table8, Tol: 2e-3,
		Cases: []check.Case{
			// The table's metric column, in ohm/km, was not used in the code.
			c("14 AWG, 75 C, metric column 10.3 ohm/km", 10.3e-3, AWG14, 75, table8+", metric column from memory", check.Memory, 5e-3),
			c("12 AWG, 75 C, metric column 6.50 ohm/km", 6.50e-3, AWG12, 75, table8+", metric column from memory", check.Memory, 1e-3),
			c("10 AWG, 75 C, metric column 4.070 ohm/km", 4.070e-3, AWG10, 75, table8+", metric column from memory", check.Memory, 4e-3),
			c("12 AWG, 1.98 ohm/kft", 1.98/304.8, AWG12, 75, table8+", read from a secondary source", check.Published, 0),
			c("1.5 mm2, 20 C", 13.3e-3, MM2x1p5, 20, iec60228, check.Memory, 0),
			c("2.5 mm2, 70 C: factor 1.196", 7.98e-3*1.196, MM2x2p5, 70, "IEC 60228 temperature factor 1/0.836 at 70 C, from memory", check.Memory, 1e-3),
			// From a different quantity: copper of 100 % IACS and the size in
			// circular mils. Stranding adds about 2 %.
			c("12 AWG, 20 C, from 10.371 ohm cmil/ft and 6530 cmil, 2 % for stranding", 10.371/6530*1.02/footM, AWG12, 20,
				"International Annealed Copper Standard, 10.371 ohm cmil/ft at 20 C, from memory", check.Memory, 0.01),
		},
	}
}

// dropFt is the loss of a cord of feet one way at the table's temperature.
func dropFt(g Gauge, feet, supplyV, a float64) Drop {
	loop, _ := LoopOhm(g, float64(feet*footM), baseAWGK)
	return DropAt(loop, supplyV, a)
}

func dropCheck() check.Quantity {
	const (
		// K is printed to three digits: half of its last digit.
		kTol = 0.05 / 12.9
		page = "worked example with 2 K I L/CM, K = 12.9, read from a secondary page"
	)
	return check.Quantity{
		Name: "voltage lost in a cord", Func: "cord.DropAt", Unit: "V",
		Formula: "2 L R I", Range: "0..1000 m; 0..2000 A; 50..500 V; power factor 1", Source: table8, Tol: 1e-3,
		Cases: []check.Case{
			{Name: "12 AWG, 15 A, 100 ft", Want: 5.9265, Got: dropFt(AWG12, 100, 120, 15).DropV, Source: page, Origin: check.Worked, Tol: kTol},
			{Name: "12 AWG, 20 A, 100 ft", Want: 7.9, Got: dropFt(AWG12, 100, 120, 20).DropV, Source: page, Origin: check.Worked, Tol: 0.05/7.9 + kTol},
			{Name: "16 AWG, 16 A, 50 ft", Want: 7.98, Got: dropFt(AWG16, 50, 120, 16).DropV, Origin: check.Arithmetic},
			{Name: "14 AWG, 16 A, 50 ft", Want: 5.02, Got: dropFt(AWG14, 50, 120, 16).DropV, Origin: check.Arithmetic},
			{Name: "12 AWG, 16 A, 50 ft", Want: 3.168, Got: dropFt(AWG12, 50, 120, 16).DropV, Origin: check.Arithmetic},
			{Name: "10 AWG, 16 A, 50 ft", Want: 1.984, Got: dropFt(AWG10, 50, 120, 16).DropV, Origin: check.Arithmetic},
			{Name: "12 AWG, 16 A, 50 ft, left for the motor", Want: 120 - 3.168, Got: dropFt(AWG12, 50, 120, 16).MotorV, Origin: check.Arithmetic},
		},
	}
}

func shareCheck() check.Quantity {
	return check.Quantity{
		Name: "share of the supply lost in a cord", Func: "cord.Drop.Share", Unit: "1",
		Formula: "2 L R I/V", Range: "0..0.5", Source: table8, Tol: 5e-3,
		Cases: []check.Case{
			{Name: "12 AWG, 15 A, 100 ft, 120 V", Want: 0.04939, Got: dropFt(AWG12, 100, 120, 15).Share, Source: "worked example with K = 12.9, read from a secondary page", Origin: check.Worked},
			{Name: "12 AWG, 16 A, 50 ft, 120 V", Want: 0.0264, Got: dropFt(AWG12, 50, 120, 16).Share, Origin: check.Arithmetic},
		},
	}
}

func lengthCheck() check.Quantity {
	got, _ := LongestM(AWG12, baseAWGK, 120, 15, 0.04939)
	return check.Quantity{
		Name: "longest cord for a share of the supply", Func: "cord.LongestM", Unit: "m",
		Formula: "share V/(2 R I)", Range: "share 0..0.2; cut at 1000 m", Source: table8, Tol: 5e-3,
		Cases: []check.Case{
			{Name: "12 AWG, 15 A, 120 V, 4.939 %: 100 ft", Want: 30.48, Got: got, Source: "the worked example with K = 12.9 turned round", Origin: check.Worked},
		},
	}
}

func ampacityCheck() check.Quantity {
	c := func(name string, want float64, g Gauge, carrying int, o check.Origin) check.Case {
		got, _ := AmpacityA(g, carrying)
		src := table4005 + ", from memory"
		if o == check.Published {
			src = table4005 + ", read from a secondary source"
		}
		return check.Case{Name: name, Want: want, Got: got, Source: src, Origin: o}
	}
	return check.Quantity{
		Name: "cord ampacity", Func: "cord.AmpacityA", Unit: "A", Formula: "table",
		Range: "18..10 AWG; 2 or 3 conductors carrying current", Source: table4005, Tol: 1e-12,
		Cases: []check.Case{
			c("12 AWG, two", 25, AWG12, 2, check.Published),
			c("16 AWG, two", 13, AWG16, 2, check.Memory),
			c("14 AWG, two", 18, AWG14, 2, check.Memory),
			c("14 AWG, three", 15, AWG14, 3, check.Memory),
			c("10 AWG, three", 25, AWG10, 3, check.Memory),
		},
	}
}
