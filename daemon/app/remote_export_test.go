package app

import "headroom/daemon/metrics"

// RemoteMetrics is how a's sender is doing, for tests.
func RemoteMetrics(a *App) (metrics.Remote, bool) { return a.remoteMetrics() }
