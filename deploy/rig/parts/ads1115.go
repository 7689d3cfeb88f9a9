package parts

import (
	"math"
	"sync"
	"time"
)

// Registers and the config register's value after power-on (SBAS444, table 8-3).
const (
	adsConversion, adsConfig = 0, 1
	adsPowerOn               = 0x8583
	adsStart                 = 1 << 15 // OS: write 1 to start, reads 1 when idle
	adsSingle                = 1 << 8
)

// Full scale by PGA setting and conversions per second by DR setting
// (SBAS444, table 8-3).
var (
	adsFullScale = [8]float64{6.144, 4.096, 2.048, 1.024, 0.512, 0.256, 0.256, 0.256}
	adsRate      = [8]float64{8, 16, 32, 64, 128, 250, 475, 860}
	adsMinus     = [4]int{1, 3, 3, 3}
	adsPlus      = [4]int{0, 0, 1, 2}
)

// ADS1115 is the converter: four inputs, single-shot and continuous
// conversion, no comparator. Make it with NewADS1115.
type ADS1115 struct {
	mu         sync.Mutex
	now        func() time.Duration
	inputs     [4]Wave
	registers  [4]uint16
	pointer    byte
	sent       []byte
	read       int
	ready      time.Duration
	converting bool
	brownIn    int
	count      int
	slow       float64
}

// NewADS1115 makes a converter after power-on with 0 V at every input; now
// gives the time its conversions and waves run by.
func NewADS1115(now func() time.Duration) *ADS1115 {
	a := &ADS1115{slow: 1, now: now}
	a.powerOn()
	return a
}

func (a *ADS1115) powerOn() {
	a.registers = [4]uint16{0, adsPowerOn, 0x8000, 0x7fff}
	a.pointer, a.converting = 0, false
}

// Set puts a voltage at input 0 to 3.
func (a *ADS1115) Set(input int, w Wave) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.inputs[input&3] = w
}

// Slow stretches the conversion time by factor: 1.1 is the slowest part that
// the data sheet allows (rate tolerance of 10 %).
func (a *ADS1115) Slow(factor float64) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.slow = factor
}

// BrownOut resets the chip as a dip of its supply does: now, and again in the
// midst of each of the next conversions. A conversion cut short that way looks
// finished at once, and its result is 0 until the next one.
func (a *ADS1115) BrownOut(conversions int) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.powerOn()
	a.brownIn = conversions
}

// Config returns the config register, and how many conversions were started.
func (a *ADS1115) Config() (config uint16, started int) {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.registers[adsConfig], a.count
}

// Start implements the bus's side of the chip.
func (a *ADS1115) Start(bool) bool {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.sent, a.read = a.sent[:0], 0
	a.settle()
	return true
}

// Write takes the pointer, then the register's two bytes.
func (a *ADS1115) Write(b byte) bool {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.sent = append(a.sent, b)
	switch len(a.sent) {
	case 1:
		a.pointer = b & 3
	case 3:
		if a.pointer != adsConversion {
			a.store(uint16(a.sent[1])<<8 | uint16(a.sent[2]))
		}
	}
	return true
}

// Read gives the pointed register, high byte first, again and again.
func (a *ADS1115) Read() byte {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.settle()
	v := a.registers[a.pointer]
	a.read++
	if a.read%2 == 1 {
		return byte(v >> 8)
	}
	return byte(v)
}

// Stop ends a transfer; nothing of the chip waits for it.
func (a *ADS1115) Stop() {}

func (a *ADS1115) store(v uint16) {
	if a.pointer != adsConfig {
		a.registers[a.pointer] = v
		return
	}
	single := v&adsSingle != 0
	a.registers[adsConfig] = v | adsStart
	if single && v&adsStart == 0 {
		return
	}
	a.count++
	a.converting = true
	a.ready = a.now() + time.Duration(a.slow*float64(time.Second)/adsRate[v>>5&7])
	if single {
		a.registers[adsConfig] &^= adsStart
	}
	if a.brownIn > 0 {
		a.brownIn--
		a.powerOn()
	}
}

// settle finishes a conversion whose time has come.
func (a *ADS1115) settle() {
	if !a.converting || a.now() < a.ready {
		return
	}
	config := a.registers[adsConfig]
	a.registers[adsConversion] = uint16(a.convert(config, a.ready))
	a.registers[adsConfig] |= adsStart
	if config&adsSingle != 0 {
		a.converting = false
		return
	}
	a.ready = a.now() + time.Duration(a.slow*float64(time.Second)/adsRate[config>>5&7])
}

func (a *ADS1115) convert(config uint16, at time.Duration) int16 {
	mux := config >> 12 & 7
	var v float64
	if mux >= 4 {
		v = a.inputs[mux-4].At(at)
	} else {
		v = a.inputs[adsPlus[mux]].At(at) - a.inputs[adsMinus[mux]].At(at)
	}
	code := math.Round(v / adsFullScale[config>>9&7] * 32768)
	return int16(max(-32768, min(32767, code)))
}
