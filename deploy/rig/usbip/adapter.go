package usbip

import (
	"encoding/binary"
	"sync"
)

// Chip is a model of an I2C chip, as the bus sees it.
type Chip interface {
	// Start begins a transfer and reports whether the chip acknowledges its
	// address. A repeated start is another Start without a Stop between.
	Start(read bool) bool
	// Write takes a byte and reports whether the chip acknowledges it.
	Write(b byte) bool
	// Read gives the next byte.
	Read() byte
	// Stop ends the transfer.
	Stop()
}

// Speed is the adapter's USB speed as vhci_hcd's attach file counts: 2 is full
// speed.
const Speed = 2

// Adapter is a USB-to-I2C adapter with chips behind it. Its fields are safe to
// change through its methods while it runs.
type Adapter struct {
	mu     sync.Mutex
	chips  map[byte]Chip
	nack   bool
	stuck  chan struct{} // nil when the bus moves; closed on release
	counts int
}

// NewAdapter makes an adapter with an empty bus.
func NewAdapter() *Adapter { return &Adapter{chips: map[byte]Chip{}} }

// Place puts a chip at a 7-bit address; nil takes it away.
func (a *Adapter) Place(address byte, c Chip) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if c == nil {
		delete(a.chips, address)
		return
	}
	a.chips[address] = c
}

// Stick makes the bus withhold every answer until Release.
func (a *Adapter) Stick() {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.stuck == nil {
		a.stuck = make(chan struct{})
	}
}

// Release ends what Stick began.
func (a *Adapter) Release() {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.stuck != nil {
		close(a.stuck)
		a.stuck = nil
	}
}

// Transfers counts the bus transfers so far, acknowledged or not.
func (a *Adapter) Transfers() int {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.counts
}

// Descriptors: USB 1.1 device of vendor class with no endpoint but 0, under
// the numbers that the kernel's driver lists for this kind of adapter.
var (
	deviceDescriptor = []byte{18, 1, 0x10, 0x01, 0xff, 0, 0, 8, 0x03, 0x04, 0x31, 0xc6, 0x05, 0x02, 0, 0, 0, 1}
	configDescriptor = []byte{9, 2, 18, 0, 1, 1, 0, 0x80, 50, 9, 4, 0, 0, 0, 0xff, 0, 0, 0}
)

// Requests of the adapter; a transfer is ioBase plus begin and end.
const (
	reqFunctions, reqDelay, reqStatus = 1, 2, 3
	ioBase, ioEnd                     = 4, 2
	statusAck, statusNack             = 1, 2
	// functions is I2C plus the SMBus commands that can be emulated on it.
	functions = 0x8eff0001
)

// Control implements Device.
func (a *Adapter) Control(setup [8]byte, out []byte, stop <-chan struct{}) ([]byte, bool) {
	if setup[0]&0x60 == 0 {
		return standard(setup)
	}
	request := setup[1]
	if request&ioBase != 0 {
		if !a.wait(stop) {
			return nil, false
		}
		return a.transfer(setup, out), true
	}
	switch request {
	case reqFunctions:
		return binary.LittleEndian.AppendUint32(nil, functions), true
	case reqDelay:
		return nil, true
	case reqStatus:
		a.mu.Lock()
		defer a.mu.Unlock()
		if a.nack {
			return []byte{statusNack}, true
		}
		return []byte{statusAck}, true
	}
	return nil, false
}

// standard answers what every USB device must: descriptors, status,
// configuration.
func standard(setup [8]byte) ([]byte, bool) {
	const getStatus, clearFeature, setFeature, getDescriptor, setConfiguration, setInterface = 0, 1, 3, 6, 9, 11
	switch setup[1] {
	case getDescriptor:
		switch setup[3] {
		case 1:
			return deviceDescriptor, true
		case 2:
			return configDescriptor, true
		}
		return nil, false
	case getStatus:
		return []byte{0, 0}, true
	case setConfiguration, setInterface, clearFeature, setFeature:
		return nil, true
	}
	return nil, false
}

// wait holds a transfer back while the bus is stuck; false means the host gave
// it up meanwhile.
func (a *Adapter) wait(stop <-chan struct{}) bool {
	a.mu.Lock()
	stuck := a.stuck
	a.mu.Unlock()
	if stuck == nil {
		return true
	}
	select {
	case <-stuck:
		return true
	case <-stop:
		return false
	}
}

// transfer carries one I2C message. wValue is the message's flags (bit 0: read),
// wIndex the address.
func (a *Adapter) transfer(setup [8]byte, out []byte) []byte {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.counts++
	read := setup[2]&1 != 0
	in := make([]byte, binary.LittleEndian.Uint16(setup[6:]))
	if !read {
		in = nil
	}
	chip := a.chips[setup[4]]
	if a.nack = chip == nil || !chip.Start(read); a.nack {
		return in
	}
	for i := range in {
		in[i] = chip.Read()
	}
	if !read {
		for _, b := range out {
			if a.nack = !chip.Write(b); a.nack {
				break
			}
		}
	}
	if setup[1]&ioEnd != 0 || a.nack {
		chip.Stop()
	}
	return in
}
