package advise

import (
	"headroom/rules/supply"
	"headroom/rules/units"
)

// helps says what would help, each evaluated; a supply that is enough needs
// none and only hears of the hose's share.
func (a *Advice) helps(h supply.Advice, j supply.Judgement, s supply.Site) {
	a.share(h.Share)
	if j.Verdict == supply.Yes {
		return
	}
	a.hoseHelp("larger_hose", "A hose of "+a.size(h.LargerHose.Hose.BoreM)+" bore and the same length", h.LargerHose)
	a.hoseHelp("shorter_hose", "A hose of the same bore, "+a.show(units.Length, h.ShorterHose.Hose.LengthM)+" long", h.ShorterHose)
	a.nozzleHelp(h.SmallerNozzle)
	a.tankHelp(h.Tank, s)
	if len(a.Help) == 0 {
		a.help("Nothing could be evaluated. Look for another tap, open it fully, and state hose, tank and bypass for more advice.")
	}
}

func (a *Advice) share(s supply.Share) {
	switch s.Status {
	case supply.ShareOK:
		a.put("hose_share", units.Fraction, s.Fraction)
		a.say("Of the drop of %s in the test the supply hose took about %s and tap, meter and street the rest.",
			a.put("drop", units.Pressure, s.DropPa), a.put("hose_drop", units.Pressure, s.HosePa))
	case supply.ShareAboveDrop:
		a.note("By its length and bore the supply hose alone would take %s, more than the whole drop of %s. One of them is wrong, or the hose is better than its name.",
			a.put("hose_drop", units.Pressure, s.HosePa), a.put("drop", units.Pressure, s.DropPa))
	case supply.ShareOutOfRange, supply.ShareUnknown:
		a.note("The supply hose's part of the loss can't be told: its length or bore isn't known or out of range.")
	}
}

// enough is a help's verdict in words.
func enough(v supply.Verdict) string {
	switch v {
	case supply.Yes:
		return "That is enough."
	case supply.Marginal:
		return "That may be enough."
	}
	return "That is not enough."
}

func (a *Advice) hoseHelp(name, what string, h supply.HoseHelp) {
	if h.Status != supply.HelpOK {
		return
	}
	text := what + " would give " + a.between(units.FlowRate, h.LowM3s, h.HighM3s) + " at the wanted pressure"
	if h.InletOK {
		text += ", and the inlet would keep " + a.between(units.Pressure, h.InletLowPa, h.InletHighPa)
	}
	a.put(name+"_flow_low", units.FlowRate, h.LowM3s)
	a.put(name+"_flow_high", units.FlowRate, h.HighM3s)
	a.help("%s. %s", text, enough(h.Verdict))
}

func (a *Advice) nozzleHelp(h supply.NozzleHelp) {
	switch h.Status {
	case supply.HelpNeedsReturn:
		a.help("A smaller nozzle doesn't spare the supply unless the bypass goes back to the pump's inlet (-bypass-to inlet).")
	case supply.HelpImpossible:
		a.help("No nozzle is small enough: the supply gives nothing at the wanted pressure.")
	case supply.HelpOK:
		if h.SizeFactor >= 1 {
			return
		}
		a.put("nozzle_size_factor", units.Fraction, h.SizeFactor)
		a.help("A nozzle of %s of the present size number would take %s. %s",
			a.show(units.Fraction, h.SizeFactor), a.put("smaller_nozzle_flow", units.FlowRate, h.NozzleM3s), enough(h.Verdict))
	}
}

func (a *Advice) tankHelp(h supply.TankHelp, s supply.Site) {
	switch h.Status {
	case supply.HelpOutOfRange:
		a.help("The tank can't be evaluated: its volume, height or times are out of range.")
	case supply.HelpOK:
		text := "A buffer tank of " + a.show(units.Volume, s.TankM3) + ", filled at " + a.put("tank_fill", units.FlowRate, h.FillM3s)
		if h.Endless {
			text += ", would never run empty"
		} else {
			text += ", would last " + a.put("tank_lasts", units.Duration, h.LastS)
		}
		inlet := a.put("tank_inlet", units.Pressure, h.InletGaugePa)
		if h.Verdict == supply.Marginal {
			a.help("%s. That is water enough, but at %s, less than wanted: the pump's manual says whether it may draw from a tank.", text, inlet)
			return
		}
		a.help("%s. %s", text, enough(h.Verdict))
	}
}
