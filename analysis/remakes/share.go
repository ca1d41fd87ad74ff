package remakes

// reportShare is F: the share of the remakes reported by each edge, of those
// reported by the last edge that any order was followed to. Orders followed to
// a younger age only show their early reports (right truncation); the
// product-limit over falling age takes care of it:
// F(e_k) = prod over l > k of 1 - g_l, with g_l the events reported in
// (e_{l-1}, e_l] over those reported by e_l, both among orders followed to e_l.
// Kalbfleisch JD, Lawless JF (1991) Statistica Sinica 1:19-32 (from memory).
func reportShare(d *design, multiple []float64) []float64 {
	in, by := delayCounts(d, multiple)
	share := make([]float64, len(d.edges))
	F := 1.0
	for k := len(share) - 1; k >= 0; k-- {
		share[k] = F
		if by[k] > 0 {
			F *= 1 - in[k]/by[k]
		}
	}
	return share
}

// delayCounts are, per edge, the remakes reported in the span up to it (in) and
// by it (by), both among orders followed to it.
func delayCounts(d *design, multiple []float64) (in, by []float64) {
	n := len(d.edges)
	table := make([]float64, n*n) // [reported][followed]
	for _, e := range d.delays {
		w := 1.0
		if multiple != nil {
			w = multiple[e.customer]
		}
		table[int(e.reported)*n+int(e.followed)] += w
	}
	in, by = make([]float64, n), make([]float64, n)
	for k := range n {
		for followed := k; followed < n; followed++ {
			in[k] += table[k*n+followed]
			for r := 0; r <= k; r++ {
				by[k] += table[r*n+followed]
			}
		}
	}
	return in, by
}

// throughShare is how an answer moves with one more delay, by [reported]
// [followed], when it moves by late[k] with the share reported by edge k. The
// share is a product over edges (reportShare), so its logarithm's derivative is
// a sum over them.
func (d *design) throughShare(share, late []float64) []float64 {
	n := len(share)
	in, by := delayCounts(d, nil)
	out := make([]float64, n*n)
	for r := range n {
		for followed := r; followed < n; followed++ {
			sum := 0.0 // derivative of log share at the edge in hand
			for k := n - 2; k >= 0; k-- {
				l := k + 1
				if left := by[l] - in[l]; left > 0 && r <= l && l <= followed {
					sum += in[l] / by[l] / left
					if r == l {
						sum -= 1 / left
					}
				}
				out[r*n+followed] += late[k] * share[k] * sum
			}
		}
	}
	return out
}
