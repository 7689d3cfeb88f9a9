package store

import (
	"context"
	"fmt"
)

// BootInfo is what a record says of one boot. The error names the boot where
// the record doesn't hold it.
func BootInfo(ctx context.Context, r interface {
	Boots(ctx context.Context) ([]Info, error)
}, boot uint64) (Info, error) {
	boots, err := r.Boots(ctx)
	if err != nil {
		return Info{}, err
	}
	for i := range boots {
		if boots[i].Boot == boot {
			return boots[i], nil
		}
	}
	return Info{}, fmt.Errorf("the record holds no boot %d", boot)
}
