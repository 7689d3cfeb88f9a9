package config

import (
	"math"
	"strconv"
	"strings"

	"headroom/rules/units"
)

// quantityNames are for people.
var quantityNames = map[units.Quantity]string{
	units.Pressure: "pressure", units.Temperature: "temperature", units.TemperatureDifference: "temperature difference",
	units.FlowRate: "flow", units.Current: "current", units.Speed: "speed", units.Voltage: "voltage",
	units.Acceleration: "acceleration", units.Fraction: "share", units.Head: "head", units.Length: "length",
	units.Bore: "bore", units.Duration: "time", units.Power: "power", units.Volume: "volume", units.Energy: "energy",
	units.Resistance: "resistance",
}

// convertMeasure reads a number with its unit and holds it against the key's
// range. A percentage of the key's ShareOf stays a share for now.
func convertMeasure(k *Key, v value) (reading, *trouble) {
	bare := v.shape == anInteger || v.shape == aFloat
	switch {
	case bare && k.Quantity == units.Fraction:
		return inRange(k, v.number, units.Unit{Scale: 1}, v.text)
	case bare:
		return reading{}, &trouble{v.text + " has no unit", "write it in quotes with one of " + unitList(k) + `, for example "` + strings.TrimSpace(v.text) + " " + showUnit(k) + `"`}
	case v.shape != aText:
		return reading{}, wrongShape(v, "a text with a unit", `, for example "10 `+showUnit(k)+`"`)
	}
	number, symbol := splitNumber(v.text)
	if k.ShareOf != "" && symbol == "%" {
		return convertShare(v.text, number)
	}
	si, err := units.Parse(k.Quantity, v.text)
	if err != nil || math.IsNaN(si) {
		return reading{}, unitTrouble(k, v.text, number, symbol)
	}
	u, _ := units.Lookup(k.Quantity, symbol)
	return inRange(k, si, u, v.text)
}

// maxShare is the largest share of a plate's figure that can be meant.
const maxShare = 10

func convertShare(text, number string) (reading, *trouble) {
	x, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return reading{}, &trouble{shortQuote(text) + " does not start with a number", `write for example "80 %"`}
	}
	if !(x >= 0 && x <= 100*maxShare) {
		return reading{}, &trouble{shortQuote(text) + " is out of range", "allowed: 0 % to 1000 %"}
	}
	return reading{number: x / 100, share: true}, nil
}

func inRange(k *Key, si float64, u units.Unit, text string) (reading, *trouble) {
	if math.IsNaN(si) || math.IsInf(si, 0) || !k.allows(si) {
		return reading{}, &trouble{shortQuote(text) + " is out of range", "allowed: " + k.allowed(u)}
	}
	return reading{number: si}, nil
}

func unitTrouble(k *Key, text, number, symbol string) *trouble {
	_, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return &trouble{shortQuote(text) + " does not start with a number", `write for example "10 ` + showUnit(k) + `"`}
	}
	if symbol == "" {
		return &trouble{shortQuote(text) + " has no unit", "write one of " + unitList(k) + `, for example "` + number + " " + showUnit(k) + `"`}
	}
	t := &trouble{message: shortQuote(text) + ": " + shortQuote(symbol) + " is no unit of " + quantityNames[k.Quantity]}
	if _, ok := units.Lookup(k.Quantity, symbol); ok {
		return &trouble{shortQuote(text) + " is too large", "allowed: " + k.allowed(units.For(k.Quantity, units.SI))}
	}
	for _, s := range units.Symbols(k.Quantity) {
		if strings.EqualFold(s, symbol) {
			t.mend = "did you mean " + s + "? "
		}
	}
	t.mend += "allowed: " + unitList(k)
	return t
}

func unitList(k *Key) string {
	list := units.Symbols(k.Quantity)
	if k.ShareOf != "" {
		list = append(list, "% (of "+k.ShareOf+")")
	}
	return strings.Join(list, ", ")
}

// showUnit is the unit for examples.
func showUnit(k *Key) string { return units.For(k.Quantity, units.SI).Symbol }

// ranged reports whether the key has a range.
func (k *Key) ranged() bool { return k.Min != 0 || k.Max != 0 }

// allows reports whether an SI value is in the key's range, but for the last
// digits that a unit's factor costs.
func (k *Key) allows(si float64) bool {
	if !k.ranged() {
		return true
	}
	if k.Above && si <= k.Min {
		return false
	}
	slack := 1e-9 * math.Max(math.Abs(k.Min), math.Abs(k.Max))
	return si >= k.Min-slack && si <= k.Max+slack
}

// allowed says the range in a unit, the one the user used.
func (k *Key) allowed(u units.Unit) string {
	if len(k.Allowed) > 0 {
		words := make([]string, len(k.Allowed))
		for i, a := range k.Allowed {
			words[i] = strconv.FormatInt(a, 10)
		}
		return strings.Join(words, ", ")
	}
	if !k.ranged() {
		return "any finite number"
	}
	lo, hi := inUnitShort(u, k.Min), inUnitShort(u, k.Max)
	if k.Above {
		return "above " + lo + ", up to " + hi
	}
	return lo + " to " + hi
}

func inUnitShort(u units.Unit, si float64) string {
	text := strconv.FormatFloat(u.FromSI(si), 'g', 5, 64)
	if math.Abs(u.FromSI(si)) < 1e15 && math.Abs(u.FromSI(si)) >= 1e5 {
		text = strconv.FormatFloat(u.FromSI(si), 'f', 0, 64)
	}
	return strings.TrimSpace(text + " " + u.Symbol)
}
