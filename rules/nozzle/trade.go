package nozzle

// Row is what the trade uses for a range of drain lines. Common practice, no
// source: ranges as commonly stated in the trade, from memory. They are a
// starting point for a choice and no limit of any machine.
type Row struct {
	// LineMinM and LineMaxM are the nominal diameters of the drain line, m.
	LineMinM, LineMaxM float64
	// HoseBoreM is the usual jetting hose's inside diameter, m.
	HoseBoreM float64
	// FlowMinM3s and FlowMaxM3s are the usual flows, m3/s.
	FlowMinM3s, FlowMaxM3s float64
	// PressureMinPa and PressureMaxPa are the usual pressures at the pump, Pa
	// gauge.
	PressureMinPa, PressureMaxPa float64
}

// Rows is how many ranges the trade table has.
const Rows = 5

// row builds a Row from inches, gpm and psi.
func row(lineMin, lineMax, bore, flowMin, flowMax, pMin, pMax float64) Row {
	return Row{LineMinM: lineMin * inchM, LineMaxM: lineMax * inchM, HoseBoreM: bore * inchM,
		FlowMinM3s: flowMin * gpmM3s, FlowMaxM3s: flowMax * gpmM3s,
		PressureMinPa: pMin * psiPa, PressureMaxPa: pMax * psiPa}
}

// TradeTable returns the ranges by rising line size. Common practice, no
// source.
func TradeTable() [Rows]Row {
	return [Rows]Row{
		row(1.25, 2, 1.0/8, 1.5, 2.5, 1000, 2000),
		row(2, 3, 3.0/16, 2, 4, 1500, 3000),
		row(3, 4, 1.0/4, 3, 6, 2000, 4000),
		row(4, 6, 3.0/8, 5.5, 12, 2500, 4000),
		row(6, 8, 1.0/2, 10, 20, 2500, 4000),
	}
}

// RowFor returns the trade's row for a line of a nominal diameter in m and its
// index. A size on the edge of two rows takes the smaller hose, which passes
// the bends. ok=false below 1 1/4 in or above 8 in.
func RowFor(lineM float64) (r Row, index int, ok bool) {
	table := TradeTable()
	// Half a percent, so that a size converted from mm or inches is found.
	const slack = 0.005
	if !(lineM >= float64(table[0].LineMinM*(1-slack))) {
		return Row{}, 0, false
	}
	for i, r := range table {
		if lineM <= float64(r.LineMaxM*(1+slack)) {
			return r, i, true
		}
	}
	return Row{}, 0, false
}
