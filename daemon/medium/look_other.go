//go:build !linux

package medium

import "errors"

func look(string) (Medium, error) { return Medium{}, errors.ErrUnsupported }
