package advise

import (
	"headroom/rules/circuit/cord"
	"headroom/rules/units"
)

// Kind is how a field of a question is filled in.
type Kind uint8

const (
	// Measure is a number with a unit.
	Measure Kind = iota
	// Reading is a flow and the pressure meanwhile, "4.1 gpm @ 48 psi".
	Reading
	// Count is a bare number.
	Count
	// Choice is one of Choices.
	Choice
)

// Field is one thing that a question wants to know, as a form asks for it. It
// has a flag of the same name.
type Field struct {
	// Name of the flag.
	Name string
	// Label and Help in plain words, without a unit and without a flag's name.
	Label, Help string
	// Kind and, for Measure, its Quantity.
	Kind     Kind
	Quantity units.Quantity
	// Unit to ask for where the quantity's own reads badly, such as minutes for
	// a whole job; empty for the quantity's.
	Unit string
	// Needed is set where no answer comes without it, whatever the config says.
	Needed bool
	// Times is how often it may be given, at least 1.
	Times int
	// Choices are the texts that a Choice takes.
	Choices []string
	// Without says what stands in where nothing is written; empty where Fallback
	// says it or nothing does.
	Without string
	// Fallback in SI stands in where nothing is written; 0 for none.
	Fallback float64
}

const ownFigure = "the figure of the machine's configuration"

// Fields returns what a topic asks, what it needs first.
func (t Topic) Fields() []Field {
	out := t.fields()
	for i := range out {
		out[i].Times = max(out[i].Times, 1)
	}
	return out
}

func supplyFields() []Field {
	return []Field{
		{Name: "static", Label: "Pressure without flow", Help: "At the pump's inlet, tap fully open, nothing running.", Quantity: units.Pressure, Needed: true},
		{Name: "flowing", Label: "With water running", Help: "How much runs, and the pressure at the inlet meanwhile. A second reading at another flow shows how sure the answer is.", Kind: Reading, Needed: true, Times: 2},
		{Name: "wanted", Label: "Pressure wanted at the inlet", Quantity: units.Pressure, Without: "where the limit warns"},
		{Name: "bypass-to", Label: "The unloader's bypass goes", Help: "Back to the pump's inlet, or away.", Kind: Choice, Choices: []string{"inlet", "away"}, Without: "away, the harder case"},
		{Name: "temp", Label: "Temperature of the water", Quantity: units.Temperature, Fallback: tapK},
		{Name: "hose-length", Label: "Length of the supply hose", Quantity: units.Length, Without: ownFigure},
		{Name: "hose-bore", Label: "Inner diameter of the supply hose", Quantity: units.Bore, Without: ownFigure},
		{Name: "shorter", Label: "Length of a shorter hose at hand", Quantity: units.Length, Without: "half of the hose"},
		{Name: "gauge-error", Label: "The gauge may be off by", Quantity: units.Pressure, Fallback: gaugeErrorPa},
		{Name: "meter-error", Label: "The flow meter may be off by", Quantity: units.Fraction, Fallback: meterError},
		{Name: "tank", Label: "Usable volume of a buffer tank at hand", Quantity: units.Volume, Without: "no tank"},
		{Name: "tank-head", Label: "The tank's water stands above the pump by", Quantity: units.Length, Without: "level with the pump"},
		{Name: "spray", Label: "With a tank: time of spraying in a cycle", Quantity: units.Duration, Fallback: sprayS},
		{Name: "pause", Label: "With a tank: time of the pause after it", Quantity: units.Duration, Fallback: pauseS},
		{Name: "job", Label: "With a tank: it should last", Quantity: units.Duration, Unit: "min", Fallback: jobS},
	}
}

func lineFields() []Field {
	return []Field{
		{Name: "line", Label: "Diameter of the drain line", Help: "Its nominal size.", Quantity: units.Bore, Needed: true},
		{Name: "hose-length", Label: "Length of the jetting hose", Help: "All of it that the water runs through, on the reel too.", Quantity: units.Length, Without: ownFigure},
		{Name: "holes", Label: "Jets of the head", Help: "How many, all alike.", Kind: Count, Without: ownFigure},
		{Name: "temp", Label: "Temperature of the water", Quantity: units.Temperature, Fallback: tapK},
	}
}

func cordFields() []Field {
	sizes := []string{}
	for g := cord.AWG18; g <= cord.MM2x10; g++ {
		sizes = append(sizes, g.String())
	}
	return []Field{
		{Name: "gauge", Label: "Size of the cord's conductors", Help: "It is printed on the cord.", Kind: Choice, Choices: sizes, Needed: true},
		{Name: "length", Label: "Length of the cord", Help: "One way, all cords together.", Quantity: units.Length, Needed: true},
		{Name: "current", Label: "Current of the motor", Quantity: units.Current, Needed: true},
		{Name: "voltage", Label: "Voltage at the outlet", Quantity: units.Voltage, Without: ownFigure},
		{Name: "temp", Label: "Temperature of the conductor", Quantity: units.Temperature, Fallback: cord.WorkingTempK},
	}
}

func unloaderFields() []Field {
	return []Field{
		{Name: "current", Label: "Current of the motor now", Quantity: units.Current, Needed: true},
		{Name: "pressure", Label: "Pressure at the pump's outlet now", Quantity: units.Pressure, Needed: true},
		{Name: "limit", Label: "Current that it shall not exceed", Quantity: units.Current, Without: "80 % of the circuit's rating in the machine's configuration"},
		{Name: "no-load", Label: "Current without pressure", Help: "Pump turning, unloader dumping.", Quantity: units.Current, Without: ownFigure},
		{Name: "flow", Label: "Flow through the nozzle now", Quantity: units.FlowRate, Without: "by the nozzle of the machine's configuration"},
		{Name: "nozzle-pressure", Label: "Pressure in front of the nozzle now", Quantity: units.Pressure, Without: "the outlet's"},
	}
}

func breakerFields() []Field {
	return []Field{
		{Name: "current", Label: "Current in the circuit", Quantity: units.Current, Needed: true},
		{Name: "carried", Label: "Carried already for", Quantity: units.Duration, Without: "it begins now"},
		{Name: "before", Label: "Current carried for a long time before that", Help: "0 for a breaker that is cold.", Quantity: units.Current, Without: "not known"},
		{Name: "rating", Label: "Rated current of the breaker", Quantity: units.Current, Without: ownFigure},
		{Name: "standard", Label: "Standard of the breaker", Kind: Choice, Choices: []string{"ul489", "iec60898-b", "iec60898-c", "iec60898-d"}, Without: ownFigure},
	}
}

func heatFields() []Field {
	return []Field{
		{Name: "temp", Label: "Temperature of the water now", Quantity: units.Temperature, Needed: true},
		{Name: "limit", Label: "Temperature that it shall not exceed", Quantity: units.Temperature, Without: "where the machine's limit acts"},
		{Name: "power", Label: "Power that heats the water", Quantity: units.Power, Without: ownFigure},
		{Name: "volume", Label: "Volume of the water that goes round", Quantity: units.Volume, Without: ownFigure},
		{Name: "exchange", Label: "Fresh water through the loop meanwhile", Quantity: units.FlowRate, Without: "none"},
		{Name: "supply-temp", Label: "Temperature of the fresh water", Quantity: units.Temperature, Fallback: tapK},
	}
}
