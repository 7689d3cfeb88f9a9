package bench

// OwnSensors is the source of a test whose readings came from the sensors of
// the machine that runs it. Any other source is practice.
const OwnSensors = "this machine's sensors"

// Practised stands in the place of a verdict where no pump was tested.
const Practised Verdict = "practice, no certificate"

// Practice reports whether the readings came from anywhere but the machine's
// own sensors: a simulator or a recording. Such a test proves no pump.
func (r *Record) Practice() bool { return r.Source != OwnSensors }

// PracticeBand is what must stand across every page and sheet of a test that
// is practice; empty for one on real sensors.
func (r *Record) PracticeBand() string {
	switch {
	case !r.Practice():
		return ""
	case r.Source == "":
		return "PRACTICE – no certificate. Where the readings came from is not told."
	}
	return "PRACTICE – no certificate. The readings did not come from a pump's own sensors, but from: " + r.Source + "."
}

// Stated is the verdict as a page or a sheet may show it: that of practice says
// so first, and names what the same readings of a pump would have come to.
func (r *Record) Stated(checks []Check) (v Verdict, why string) {
	v, why = r.Overall(checks)
	if !r.Practice() {
		return v, why
	}
	return Practised, "no pump was tested; the same readings of a pump would give: " + string(v) + ", " + why
}
