package body

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func batchOf(forms []Form) *Batch {
	b := new(Batch)
	for _, f := range forms {
		for _, n := range f.Numbers {
			b.Add(n)
		}
		b.EndForm(f.Sex, f.Channel)
	}
	return b
}

func BenchmarkAudit(b *testing.B) {
	cases := readDev(b)
	var forms []Form
	for _, c := range cases {
		if c.fault == "none" {
			forms = append(forms, c.form)
		}
	}
	a := NewModel(Settings{}).NewAuditor(0.01)
	batch := batchOf(forms)
	out := a.Audit(batch, nil)
	b.ReportAllocs()
	b.ResetTimer()
	for b.Loop() {
		out = a.Audit(batch, out[:0])
	}
	b.ReportMetric(float64(len(batch.MM))*float64(b.N)/b.Elapsed().Seconds(), "numbers/s")
}

func TestAuditDev(t *testing.T) {
	cases := readDev(t)
	var forms []Form
	for _, c := range cases {
		forms = append(forms, c.form)
	}
	a := NewModel(Settings{}).NewAuditor(0.01)
	ev := a.Audit(batchOf(forms), nil)
	require.Len(t, ev, len(forms))
	type cell struct{ n, alarm, tape, copied, unit, impl, oor int }
	count := map[string]*cell{}
	for i, c := range cases {
		k := count[c.fault]
		if k == nil {
			k = new(cell)
			count[c.fault] = k
		}
		k.n++
		add := func(p *int, a Answer) {
			if a == Yes {
				*p++
			}
		}
		if ev[i].Score >= 2 {
			k.alarm++
		}
		add(&k.tape, ev[i].TapeZeroShown)
		add(&k.copied, ev[i].SidesCopied)
		add(&k.unit, ev[i].UnitMixed)
		add(&k.impl, ev[i].ValueImplausible)
		add(&k.oor, ev[i].OutOfRange)
	}
	for f, k := range count {
		t.Logf("%-28s %+v", f, *k)
	}
}
