package advise

import (
	"fmt"
	"strconv"
	"strings"

	"headroom/rules/hydraulics"
	"headroom/rules/units"
	"headroom/rules/water"
)

// quantity reads the text of a flag. An empty text takes the fallback, which
// must be above 0: else the flag is missing.
func quantity(name string, q units.Quantity, text string, fallback float64) (float64, error) {
	if strings.TrimSpace(text) == "" {
		if fallback > 0 {
			return fallback, nil
		}
		return 0, fmt.Errorf("-%s is missing; write for example -%s %q", name, name, sample(q))
	}
	v, err := parse(q, text)
	if err != nil {
		return 0, fmt.Errorf("-%s: %w", name, err)
	}
	return v, nil
}

// parse reads a value, and proposes one that somebody would write where the
// unit is missing.
func parse(q units.Quantity, text string) (float64, error) {
	text = strings.TrimSpace(text)
	_, bare := units.Lookup(q, "")
	if _, err := strconv.ParseFloat(text, 64); err == nil && !bare {
		_, unit, _ := strings.Cut(sample(q), " ")
		return 0, fmt.Errorf("%q has no unit; write for example \"%s %s\", or another of %s", text, text, unit, strings.Join(units.Symbols(q), ", "))
	}
	return units.Parse(q, text)
}

// positive is a quantity that must be above 0.
func positive(name string, q units.Quantity, text string, fallback float64) (float64, error) {
	v, err := quantity(name, q, text, fallback)
	if err == nil && v <= 0 {
		return 0, fmt.Errorf("-%s: %q must be above 0", name, text)
	}
	return v, err
}

// sample is a value as one would write it.
func sample(q units.Quantity) string {
	switch q {
	case units.Pressure:
		return "60 psi"
	case units.FlowRate:
		return "4 gpm"
	case units.Temperature:
		return "15 °C"
	case units.Current:
		return "14 A"
	case units.Voltage:
		return "120 V"
	case units.Length:
		return "50 ft"
	case units.Bore:
		return "4 in"
	case units.Duration:
		return "30 s"
	case units.Power:
		return "600 W"
	case units.Volume:
		return "1 L"
	}
	return "1"
}

// tapK is tap water where nothing else is said. Common practice, no source.
const tapK = 288.15

// atPa is the pressure at which water's properties are taken: they hardly
// depend on it.
const atPa = 101325

// liquid is the water at a temperature in kelvin, for the friction.
func liquid(flag string, tempK float64) (hydraulics.Water, error) {
	p, ok := water.Props(tempK, atPa)
	if !ok {
		return hydraulics.Water{}, errWater(flag)
	}
	return hydraulics.Water{DensityKgM3: p.DensityKgM3, ViscosityPaS: p.ViscosityPaS}, nil
}

// friction binds the loss of a hose to one water and one roughness.
func friction(w hydraulics.Water, roughnessM float64) func(lengthM, boreM, flowM3s float64) (float64, bool) {
	return func(lengthM, boreM, flowM3s float64) (float64, bool) {
		l, ok := hydraulics.PipeLoss(hydraulics.Pipe{LengthM: lengthM, BoreM: boreM, RoughnessM: roughnessM}, w, flowM3s)
		return l.Pa, ok
	}
}

// errWater is for a temperature at which there is no liquid water.
func errWater(flag string) error {
	return fmt.Errorf("-%s: water is modelled from 0 to 99 °C; write for example -%s %q", flag, flag, "15 °C")
}
