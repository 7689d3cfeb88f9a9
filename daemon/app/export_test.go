package app

import "headroom/daemon/record"

// WrapLog puts something between the queue and the record. It is called before
// Run.
func (a *App) WrapLog(wrap func(record.Log) record.Log) { a.keeper.wrap = wrap }
