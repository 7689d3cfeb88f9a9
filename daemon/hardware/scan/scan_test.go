package scan

import (
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"

	"headroom/daemon/config"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// tree makes files below a folder; a path with " -> " is a link.
func tree(t *testing.T, files map[string]string) string {
	root := t.TempDir()
	for path, text := range files {
		path, target, link := strings.Cut(path, " -> ")
		full := filepath.Join(root, path)
		require.NoError(t, os.MkdirAll(filepath.Dir(full), 0o755))
		if link {
			require.NoError(t, os.Symlink(target, full))
			continue
		}
		require.NoError(t, os.WriteFile(full, []byte(text), 0o644))
	}
	return root
}

// bus answers at some addresses and records what was asked.
type bus struct {
	at     map[uint16]bool
	every  bool
	hangs  uint16
	asked  []uint16
	writes int
	closed bool
}

func (b *bus) Tx(addr uint16, w, r []byte) error {
	b.asked = append(b.asked, addr)
	if len(w) > 0 || len(r) != 1 {
		b.writes++
	}
	if addr == b.hangs {
		time.Sleep(time.Hour)
	}
	if b.at[addr] || b.every {
		return nil
	}
	return errors.New("no such device or address")
}
func (b *bus) String() string                  { return "fake" }
func (b *bus) SetSpeed(physic.Frequency) error { return nil }
func (b *bus) Close() error                    { b.closed = true; return nil }

func board(t *testing.T) (Env, *bus) {
	root := tree(t, map[string]string{
		"dev/i2c-1": "", "sys/class/i2c-dev/i2c-1/name": "bcm2835 (i2c@7e804000)\n",
		"dev/i2c-10": "", "dev/i2c-2": "",
		"sys/bus/i2c/drivers/rtc-ds1307/bind":                           "",
		"sys/bus/i2c/devices/1-0068/name":                               "ds3231\n",
		"sys/bus/i2c/devices/1-0068/driver -> ../../drivers/rtc-ds1307": "",
		"sys/bus/i2c/devices/1-0048/name":                               "claimed by nobody\n",
		"sys/bus/w1/devices/28-000000123456/w1_slave":                   "",
		"sys/bus/w1/devices/10-000000abcdef/w1_slave":                   "",
		"sys/bus/w1/devices/w1_bus_master1/w1_master_slaves":            "",
		"dev/gpiochip0": "", "dev/gpiochip4 -> gpiochip0": "", "dev/gpiochip10": "",
		"dev/ttyUSB0": "", "dev/ttyUSB1": "", "dev/ttyS0": "", "dev/ttyS1": "",
		"sys/class/tty/ttyS0/type":                      "4\n",
		"sys/class/tty/ttyS1/type":                      "0\n",
		"dev/serial/by-id/usb-adapter -> ../../ttyUSB0": "",
	})
	b := &bus{at: map[uint16]bool{0x48: true, 0x4a: true, 0x20: true, 0x50: true}}
	return Env{
		Root: root,
		OpenI2C: func(n int) (i2c.BusCloser, error) {
			if n != 1 {
				return nil, errors.New("permission denied")
			}
			return b, nil
		},
		Chip: func(path string) (Chip, error) {
			if !strings.HasSuffix(path, "gpiochip0") {
				return Chip{Label: "empty"}, errors.New("permission denied")
			}
			return Chip{Label: "pinctrl", Lines: []Line{{0, "ID_SDA", "the kernel"}, {16, "", ""}, {17, "GPIO17", ""}, {18, "GPIO18", "headroom flow"}}}, nil
		},
	}, b
}

func TestScanOfAFixtureBoard(t *testing.T) {
	e, b := board(t)
	f := e.Run(t.Context())
	require.NotContains(t, b.asked, uint16(0x68), "what the kernel holds is left alone")
	require.Zero(t, b.writes, "a probe is one read of one byte")
	require.True(t, b.closed)
	require.Equal(t, uint16(0x08), b.asked[0])
	require.Equal(t, uint16(0x77), b.asked[len(b.asked)-1])

	var out strings.Builder
	require.NoError(t, f.Write(&out))
	out.WriteString("\n---\n")
	require.NoError(t, f.Propose(&out))
	golden := filepath.Join("testdata", "board.txt")
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(golden, []byte(out.String()), 0o644))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	require.Equal(t, string(want), out.String())
}

// What is proposed must be a config without a mistake.
func TestTheProposalIsAConfig(t *testing.T) {
	e, _ := board(t)
	var out strings.Builder
	require.NoError(t, e.Run(t.Context()).Propose(&out))
	cfg, problems := config.Parse("proposal.toml", []byte(out.String()))
	require.Empty(t, config.Mistakes(problems))
	require.Len(t, cfg.Sensors.ADC, 2)
	require.Len(t, cfg.Sensors.Thermometers, 1)
	require.Len(t, cfg.Sensors.Pulses, 1)
}

func TestScanOfNothing(t *testing.T) {
	f := Env{Root: t.TempDir()}.Run(t.Context())
	var out strings.Builder
	require.NoError(t, f.Write(&out))
	for _, want := range []string{"no bus", "no sensor", "no chip", "no port"} {
		require.Contains(t, out.String(), want)
	}
	var proposal strings.Builder
	require.NoError(t, f.Propose(&proposal))
	require.Empty(t, proposal.String())
}

func TestSickBuses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		root := tree(t, map[string]string{"dev/i2c-1": ""})
		for want, b := range map[string]*bus{
			"hangs at address 0x10":    {hangs: 0x10},
			"answers at every address": {every: true},
		} {
			f := Env{Root: root, OpenI2C: func(int) (i2c.BusCloser, error) { return b, nil }}.Run(t.Context())
			require.Contains(t, f.Buses[0].Problem, want)
		}
		time.Sleep(2 * time.Hour) // the hung call ends
	})
}

// A plain file is no chip, and says so.
func TestAFileIsNoChip(t *testing.T) {
	f := Env{Root: tree(t, map[string]string{"dev/gpiochip0": ""})}.Run(t.Context())
	require.Len(t, f.Chips, 1)
	require.Equal(t, "/dev/gpiochip0", f.Chips[0].Path)
	require.NotEmpty(t, f.Chips[0].Problem)
}
