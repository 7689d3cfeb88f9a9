//go:build !linux

package scan

import "errors"

// listChip always fails here.
func listChip(string) (Chip, error) {
	return Chip{}, errors.New("this system has no Linux GPIO character device")
}
