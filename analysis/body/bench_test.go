package body

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

func drawn(t testing.TB, n int, d human.Drawing, seed uint64) (out []form.Form) {
	r := rand.New(rand.NewPCG(seed, 5))
	for range n {
		f, err := human.Draw(r, d)
		require.NoError(t, err)
		out = append(out, f)
	}
	return out
}

var sevenUp = []float64{7 * mmPerInch, 9 * mmPerInch, 11 * mmPerInch, 13 * mmPerInch, 15 * mmPerInch}

// BenchmarkAuditLegs audits forms of 22 numbers with leg girths.
func BenchmarkAuditLegs(b *testing.B) {
	for _, bench := range []struct {
		name string
		sex  form.Sex
	}{{"known", form.Male}, {"unknown", form.SexUnknown}} {
		b.Run(bench.name, func(b *testing.B) {
			forms := drawn(b, 500, human.Drawing{Sex: form.Male, Heights: sevenUp, Unit: form.Inch, Step: 3.175}, 1)
			for i := range forms {
				forms[i].Sex = bench.sex
			}
			batch := batchOf(forms)
			a := NewModel(form.Scheme{}).NewAuditor(0.01)
			out := a.Audit(batch, nil)
			b.ReportAllocs()
			for b.Loop() {
				out = a.Audit(batch, out[:0])
			}
			b.ReportMetric(float64(len(batch.MM))*float64(b.N)/b.Elapsed().Seconds(), "numbers/s")
		})
	}
}

// BenchmarkCheck checks one form in full, explanation and history included.
func BenchmarkCheck(b *testing.B) {
	m := NewModel(form.Scheme{})
	f := drawn(b, 1, human.Drawing{Sex: form.Female, Heights: sevenUp, Unit: form.Inch, Step: 3.175}, 2)[0]
	past := []Earlier{{Form: f, Years: 1}, {Form: f, Years: 3}}
	m.Check(f, past, 0.01)
	for b.Loop() {
		m.Check(f, past, 0.01)
	}
}

// BenchmarkNewLayout builds what forms with one set of 22 numbers share.
func BenchmarkNewLayout(b *testing.B) {
	f := drawn(b, 1, human.Drawing{Sex: form.Female, Heights: sevenUp, Unit: form.Inch, Step: 3.175}, 2)[0]
	var in intake
	for i := range f.Numbers {
		in.add(form.Scheme{}, &f.Numbers[i], i)
	}
	m := NewModel(form.Scheme{})
	for b.Loop() {
		m.newLayout(layoutSpec{codes: in.codes, sex: form.Female, step: 1})
	}
}
