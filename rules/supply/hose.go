package supply

// Hose is the supply hose between the tap and the pump inlet.
type Hose struct {
	// LengthM and BoreM in m; 0 means not known.
	LengthM, BoreM float64
}

// Bores holds the usual inside diameters of a supply hose in m: 1/2, 5/8, 3/4,
// 1, 1 1/4, 1 1/2 and 2 inch. Common practice, no source; a true bore differs
// from its nominal size.
func Bores() [7]float64 {
	const in = 0.0254
	return [7]float64{in / 2, in * 5 / 8, in * 3 / 4, in, in * 5 / 4, in * 3 / 2, in * 2}
}

// NextBore returns the first usual bore at least 2 % larger than boreM, in m.
// ok=false when none is, or the bore isn't positive.
func NextBore(boreM float64) (nextM float64, ok bool) {
	if !(boreM > 0) {
		return 0, false
	}
	for _, b := range Bores() {
		if b >= float64(boreM*1.02) {
			return b, true
		}
	}
	return 0, false
}

// ShareStatus says what is known of the hose's share of the loss.
type ShareStatus uint8

// The states. The zero value means unknown.
const (
	// ShareUnknown: length or bore isn't known, no friction law was handed in,
	// or the test is refused.
	ShareUnknown ShareStatus = iota
	// ShareOK: the hose's loss at the tested flow is below the measured drop.
	ShareOK
	// ShareAboveDrop: by its length and bore the hose would take more than the
	// whole measured drop. Length or bore is wrong, or the hose is better than
	// its nominal bore; the rest of the loss can't be told.
	ShareAboveDrop
	// ShareOutOfRange: the friction law refuses this flow in this hose.
	ShareOutOfRange
)

// Share splits the measured drop at the largest tested flow.
type Share struct {
	Status ShareStatus
	// DropPa is the measured drop, HosePa the hose's computed part and TapPa
	// the rest (tap, meter, street), all in Pa; Fraction is HosePa/DropPa. In
	// ShareAboveDrop TapPa is 0 and Fraction above 1.
	DropPa, HosePa, TapPa, Fraction float64
}

// HoseShare computes the hose's share of the measured drop by the friction law
// handed in. Source: Darcy-Weisbach for the hose, the difference for the rest.
func HoseShare(t Test, h Hose, loss Friction) Share {
	if s, _ := t.Check(); s != OK || loss == nil || !(h.LengthM > 0) || !(h.BoreM > 0) {
		return Share{}
	}
	r := t.Flowing[t.largest()]
	hose, ok := loss(h.LengthM, h.BoreM, r.FlowM3s)
	if !ok || !(hose >= 0) || !finite(hose) {
		return Share{Status: ShareOutOfRange}
	}
	drop := t.StaticGaugePa - r.InletGaugePa
	s := Share{Status: ShareOK, DropPa: drop, HosePa: hose, TapPa: drop - hose, Fraction: hose / drop}
	if hose > drop {
		s.Status, s.TapPa = ShareAboveDrop, 0
	}
	return s
}

// line is the supply as a tap that loses tapK q^2 and a hose by its law.
type line struct {
	staticPa, tapK float64
	loss           Friction
}

// lineOf splits a test into tap and hose; ok=false without a hose share.
func lineOf(t Test, s Share, loss Friction) (line, bool) {
	if s.Status != ShareOK {
		return line{}, false
	}
	q := t.Flowing[t.largest()].FlowM3s
	return line{staticPa: t.StaticGaugePa, tapK: s.TapPa / float64(q*q), loss: loss}, true
}

// drop is the pressure lost between the tap's static and the inlet.
func (l line) drop(h Hose, flowM3s float64) (float64, bool) {
	hose, ok := l.loss(h.LengthM, h.BoreM, flowM3s)
	if !ok || !(hose >= 0) || !finite(hose) {
		return 0, false
	}
	return float64(l.tapK*float64(flowM3s*flowM3s)) + hose, true
}

// flow finds the flow at a wanted inlet pressure by halving the interval: the
// drop rises with the flow, so that there is one answer. 60 halvings of at most
// 1 m3/s leave less than 1e-18 m3/s.
func (l line) flow(h Hose, wantedPa float64) (float64, bool) {
	room := l.staticPa - wantedPa
	if room <= 0 {
		return 0, true
	}
	lo, hi := 0.0, 1e-4
	for {
		d, ok := l.drop(h, hi)
		if !ok {
			return 0, false
		}
		if d >= room {
			break
		}
		if lo = hi; hi >= MaxFlowM3s {
			return 0, false
		}
		hi *= 2
	}
	for i := 0; i < 60; i++ {
		mid := lo + float64((hi-lo)/2)
		d, ok := l.drop(h, mid)
		if !ok {
			return 0, false
		}
		if d < room {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo, true
}
