//go:build !unix

package load

func crashMain() {}
