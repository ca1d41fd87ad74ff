package demo

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"lastroom/analysis/testdata/breadth"
)

var surveyNames = [nBody]string{
	"footlength", "footbreadthhorizontal", "balloffootcircumference", "heelanklecircumference", "anklecircumference", "calfcircumference", "tibialheight",
}

// Source: figures of ANSUR II (Gordon et al. 2014, NATICK/TR-15/007) as
// computed from its public individual-level file.
func TestFiguresAreTheSurveys(t *testing.T) {
	dir := filepath.Join("..", "..", "..", "shared", "ansur2")
	if _, err := os.Stat(dir); err != nil {
		t.Skip("the survey's tables are not beside this tree")
	}
	for sex, p := range map[string]*population{"M": men, "F": women} {
		corr := table(t, filepath.Join(dir, "corr_"+sex+".csv"))
		k := 0
		for i := range nBody {
			for j := i; j < nBody; j++ {
				require.InDelta(t, corr[surveyNames[i]][surveyNames[j]], p.corr[k], 5e-5, "%s %s", surveyNames[i], surveyNames[j])
				k++
			}
		}
	}
	f, err := os.Open(filepath.Join(dir, "reference.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	seen := 0
	for _, r := range rows[1:] {
		p := map[string]*population{"M": men, "F": women}[r[0]]
		for i, n := range surveyNames {
			if p != nil && r[1] == n {
				require.InDelta(t, number64(t, r[3]), p.mean[i], 0.005, n)
				require.InDelta(t, number64(t, r[4]), p.sd[i], 0.005, n)
				seen++
			}
		}
	}
	require.Equal(t, 2*nBody, seen)
}

func table(t *testing.T, file string) map[string]map[string]float64 {
	f, err := os.Open(file)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	m := map[string]map[string]float64{}
	for _, r := range rows[1:] {
		m[r[0]] = map[string]float64{}
		for j, c := range rows[0][1:] {
			m[r[0]][c] = number64(t, r[j+1])
		}
	}
	return m
}

func number64(t *testing.T, s string) float64 {
	x, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return x
}

// Drawn bodies have the population's means, spreads and correlations, within
// five standard errors.
func TestDrawsFollowTheFigures(t *testing.T) {
	const n = 20000
	for _, p := range []*population{men, women} {
		r := random(1, streamPerson, 1)
		var x [nBody][]float64
		for range n {
			mm := p.draw(r)
			for i := range x {
				x[i] = append(x[i], mm[i])
			}
		}
		k := 0
		for i := range nBody {
			mean, sd := stat.MeanStdDev(x[i], nil)
			require.InDelta(t, p.mean[i], mean, 5*p.sd[i]/math.Sqrt(n))
			require.InEpsilon(t, p.sd[i], sd, 5/math.Sqrt(2*n))
			for j := i; j < nBody; j++ {
				require.InDelta(t, p.corr[k], stat.Correlation(x[i], x[j], nil), 5/math.Sqrt(n)+0.002)
				k++
			}
		}
	}
}

// A leg swells from the ankle to the calf and never beyond either: a hundred people's,
// with CI=true five hundred.
func TestLegsAreLegs(t *testing.T) {
	w := &workshop{Options: Options{Seed: 4}}
	for i := range breadth.Few(100, 500) {
		p := w.person(i)
		for _, l := range p.legs {
			ankle, calf := l.mm[ankleGirth], l.mm[calfGirth]
			require.InDelta(t, ankle, l.girthAt(0), 1e-9)
			require.InDelta(t, calf, l.girthAt(l.peakAt), 1e-9)
			for h := 100.0; h < 460; h++ {
				g := l.girthAt(h)
				require.True(t, g >= ankle-1e-9 && g <= calf+1e-9)
				if h < l.peakAt-1 {
					require.GreaterOrEqual(t, l.girthAt(h+1), g)
				}
			}
		}
	}
}

// The published sketch of the curve: about 258, 313, 366, 392 mm at 7, 9, 11
// and 13 inches for men. It was derived from the survey's landmark heights
// with the same half cosine, so this is a check of the arithmetic.
func TestLegCurve(t *testing.T) {
	l := leg{ankleAt: 117, peakAt: 338}
	l.mm[ankleGirth], l.mm[calfGirth], l.mm[kneeHeight] = 229.34, 392.26, 468.21
	for h, want := range map[float64]float64{7: 258, 9: 313, 11: 366, 13: 392} {
		require.InDelta(t, want, l.girthAt(h*inch), 1)
	}
}

func TestFraction(t *testing.T) {
	for x, want := range map[float64]string{14.625: "14 5/8", 14: "14", 9.5: "9 1/2", 9.99: "10", 9.26: "9 1/4"} {
		require.Equal(t, want, fraction(x, 8))
	}
	require.Equal(t, []float64{7, 9, 11}, legHeights(12))
	require.Empty(t, legHeights(6))
}
