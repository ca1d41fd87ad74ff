//go:build !unix

package orderbook

func crashMain() {}
