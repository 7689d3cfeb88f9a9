package gpiochip

import (
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
	"unsafe"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"headroom/deploy/testneed"
)

// An ioctl number holds the size of its structure in bits 16 to 29 (source:
// Linux, asm-generic/ioctl.h), so the published numbers check our layout.
func TestStructSizesMatchTheIoctlNumbers(t *testing.T) {
	for _, c := range []struct {
		name    string
		request uint32
		size    uintptr
	}{
		{"GPIO_GET_CHIPINFO_IOCTL", unix.GPIO_GET_CHIPINFO_IOCTL, unsafe.Sizeof(chipInfo{})},
		{"GPIO_V2_GET_LINEINFO_IOCTL", unix.GPIO_V2_GET_LINEINFO_IOCTL, unsafe.Sizeof(lineInfo{})},
		{"GPIO_V2_GET_LINE_IOCTL", unix.GPIO_V2_GET_LINE_IOCTL, unsafe.Sizeof(lineRequest{})},
		{"GPIO_V2_LINE_GET_VALUES_IOCTL", unix.GPIO_V2_LINE_GET_VALUES_IOCTL, unsafe.Sizeof(lineValues{})},
	} {
		require.EqualValues(t, c.request>>16&0x3fff, c.size, c.name)
	}
}

// The C compiler and the kernel's own header say where each field stands.
func TestOffsetsMatchTheKernelHeader(t *testing.T) {
	var r lineRequest
	var i lineInfo
	ours := []struct {
		c  string
		at uintptr
	}{
		{"struct gpio_v2_line_request, consumer", unsafe.Offsetof(r.consumer)},
		{"struct gpio_v2_line_request, config", unsafe.Offsetof(r.config)},
		{"struct gpio_v2_line_request, config.num_attrs", unsafe.Offsetof(r.config) + unsafe.Offsetof(r.config.numAttrs)},
		{"struct gpio_v2_line_request, config.attrs", unsafe.Offsetof(r.config) + unsafe.Offsetof(r.config.attrs)},
		{"struct gpio_v2_line_request, num_lines", unsafe.Offsetof(r.numLines)},
		{"struct gpio_v2_line_request, event_buffer_size", unsafe.Offsetof(r.eventSize)},
		{"struct gpio_v2_line_request, fd", unsafe.Offsetof(r.fd)},
		{"struct gpio_v2_line_config_attribute, mask", unsafe.Offsetof(r.config.attrs[0].mask)},
		{"struct gpio_v2_line_attribute, values", unsafe.Offsetof(r.config.attrs[0].attr.union)},
		{"struct gpio_v2_line_info, consumer", unsafe.Offsetof(i.consumer)},
		{"struct gpio_v2_line_info, offset", unsafe.Offsetof(i.offset)},
		{"struct gpio_v2_line_info, flags", unsafe.Offsetof(i.flags)},
		{"struct gpio_v2_line_event, seqno", 16},
		{"struct gpio_v2_line_event, line_seqno", 20},
	}
	source := "#include <stdio.h>\n#include <stddef.h>\n#include <linux/gpio.h>\nint main(void) {\n"
	want := ""
	for _, o := range ours {
		source += fmt.Sprintf("printf(\"%%s %%zu\\n\", %q, offsetof(%s));\n", o.c, o.c)
		want += fmt.Sprintf("%s %d\n", o.c, o.at)
	}
	source += "printf(\"event %zu flags %d %d %d %d %d %d %d %d %d %d attrs %d %d\\n\", sizeof(struct gpio_v2_line_event)" + strings.Join([]string{
		"", "USED", "ACTIVE_LOW", "INPUT", "OUTPUT", "EDGE_RISING", "EDGE_FALLING", "BIAS_PULL_UP", "BIAS_PULL_DOWN", "BIAS_DISABLED", "EVENT_CLOCK_REALTIME",
	}, ", (int)GPIO_V2_LINE_FLAG_") + ", GPIO_V2_LINE_ATTR_ID_OUTPUT_VALUES, GPIO_V2_LINE_ATTR_ID_DEBOUNCE); }\n"
	want += fmt.Sprintf("event %d flags %d %d %d %d %d %d %d %d %d %d attrs %d %d\n", eventSize,
		flagUsed, flagActiveLow, flagInput, flagOutput, flagRising, flagFalling, flagPullUp, flagPullDown, flagBiasOff, 1<<11, attrOutputs, attrDebounce)
	require.Equal(t, want, runC(t, source))
}

func runC(t *testing.T, source string) string {
	t.Helper()
	if runtime.GOARCH != "amd64" && runtime.GOARCH != "arm64" {
		t.Skip("skipped: the compiler builds for another processor; sizes are still checked above")
	}
	if _, err := os.Stat("/usr/include/linux/gpio.h"); err != nil {
		testneed.Missing(t, "needs linux/gpio.h (Debian package linux-libc-dev)")
	}
	cc := testneed.Program(t, "gcc", "gcc", "cc")
	dir := t.TempDir()
	file, prog := filepath.Join(dir, "layout.c"), filepath.Join(dir, "layout")
	require.NoError(t, os.WriteFile(file, []byte(source), 0o644))
	out, err := exec.Command(cc, "-o", prog, file).CombinedOutput()
	require.NoError(t, err, string(out))
	out, err = exec.Command(prog).Output()
	require.NoError(t, err)
	return string(out)
}

func TestRequestsSayEverythingAtOnce(t *testing.T) {
	in := InputRequest{
		Line: Line{Offset: 17}, Chip: "x", Consumer: strings.Repeat("c", 40), ActiveLow: true,
		Edges: BothEdges, Bias: PullUp, Debounce: 2 * time.Millisecond, Buffer: 1024,
	}.kernel(17)
	require.EqualValues(t, flagInput|flagActiveLow|flagRising|flagFalling|flagPullUp, in.config.flags)
	require.EqualValues(t, 1, in.numLines)
	require.EqualValues(t, 17, in.offsets[0])
	require.EqualValues(t, 1024, in.eventSize)
	require.Equal(t, strings.Repeat("c", 31), text(in.consumer[:]), "a zero must stay at the end")
	require.EqualValues(t, 1, in.config.numAttrs)
	require.EqualValues(t, attrDebounce, in.config.attrs[0].attr.id)
	require.EqualValues(t, 2000, binary.NativeEndian.Uint32(in.config.attrs[0].attr.union[:]))
	require.EqualValues(t, 1, in.config.attrs[0].mask)

	for _, initial := range []bool{false, true} {
		out := OutputRequest{Chip: "x", ActiveLow: true, Initial: initial}.kernel(3)
		require.EqualValues(t, flagOutput|flagActiveLow, out.config.flags)
		require.EqualValues(t, 1, out.config.numAttrs, "an output without its level in the request would glitch")
		require.EqualValues(t, attrOutputs, out.config.attrs[0].attr.id)
		require.Equal(t, initial, binary.NativeEndian.Uint64(out.config.attrs[0].attr.union[:]) == 1)
	}
	require.Zero(t, InputRequest{Chip: "x"}.kernel(0).config.numAttrs)
}

func TestChecks(t *testing.T) {
	for want, r := range map[string]InputRequest{
		"neither chip nor line name": {},
		"edges 9":                    {Chip: "x", Edges: 9},
		"bias 9":                     {Chip: "x", Bias: 9},
		"debounce 2s":                {Chip: "x", Debounce: 2 * time.Second},
		"buffer of -1":               {Chip: "x", Buffer: -1},
	} {
		_, err := Linux{}.Input(r)
		require.ErrorContains(t, err, want)
	}
	_, err := Linux{}.Output(OutputRequest{})
	require.ErrorContains(t, err, "neither chip nor line name")
}

func TestTheChipMustBeThere(t *testing.T) {
	dir := t.TempDir()
	_, err := Linux{Dev: dir}.Input(InputRequest{Line: Line{Name: "FLOW"}})
	require.ErrorContains(t, err, "there is no GPIO chip in "+dir)

	file := filepath.Join(dir, "gpiochip0")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	_, err = Linux{}.Input(InputRequest{Chip: file, Line: Line{Name: "FLOW"}})
	require.ErrorContains(t, err, "is no GPIO chip")
	_, err = Linux{}.Output(OutputRequest{Chip: file, Line: Line{Offset: 3}})
	require.ErrorContains(t, err, "the chip has no line 3")
	_, err = Linux{Dev: dir}.Output(OutputRequest{Line: Line{Name: "RELAY"}})
	require.ErrorContains(t, err, `no line is named "RELAY"`)
}

func TestNamesAreNotGuessed(t *testing.T) {
	_, _, err := only([]place{{"/dev/gpiochip0", 4}, {"/dev/gpiochip1", 7}}, "GPIO4")
	require.ErrorContains(t, err, "/dev/gpiochip0 line 4 and for /dev/gpiochip1 line 7: give chip and offset")
	p, o, err := only([]place{{"/dev/gpiochip0", 4}}, "GPIO4")
	require.NoError(t, err)
	require.Equal(t, "/dev/gpiochip0", p)
	require.EqualValues(t, 4, o)
}
