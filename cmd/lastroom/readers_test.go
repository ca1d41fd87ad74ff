package main

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"flag"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
)

var manyVisits = flag.Int("visits", 0, "how many pages each of the 30 readers opens in TestThirtyReaders (default 25)")

// Thirty readers who open page after page, without a pause, over the invented
// workshop's book: 95 of 100 pages come within 100 ms, exercises and long lists within 300 ms,
// also while sheets are loaded again and again. The readers keep all processors
// busy; where other programs take a part of them, times are counted by the part
// that was left. That is for -campaign, on an idle machine; among other tests five
// times as long is let pass.
func TestThirtyReaders(t *testing.T) {
	if *manyVisits == 0 {
		breadth.Leave(t, "TestLongWorkStandsInAQueue and TestEveryAddressInParallel of ./notebooks/service")
	}
	visits := cmp.Or(*manyVisits, 25)
	own := ownDemo(t)
	base := served(t, filepath.Join(own, "shop.duckdb"))
	pages := pagesToRead(t, base, filepath.Join(own, "sheets"))
	// Before the clock runs, once on each of the connections that the service keeps.
	var first sync.WaitGroup
	for range 4 {
		first.Go(func() {
			for _, name := range slices.Sorted(maps.Keys(pages)) {
				requireOK(t, base, pages[name][0])
			}
		})
	}
	first.Wait()
	if breadth.Campaign() { // what holds during loads holds without them
		t.Run("alone", func(t *testing.T) { readAll(t, base, pages, visits) })
	}
	t.Run("during loads", func(t *testing.T) {
		stop := make(chan struct{})
		var loading sync.WaitGroup
		loads := 0
		loading.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
					uploadSheets(t, base, filepath.Join(own, "sheets"))
					loads++
				}
			}
		})
		readAll(t, base, pages, visits)
		close(stop)
		loading.Wait()
		t.Logf("%d loads meanwhile", loads)
		assert.Positive(t, loads)
	})
}

// pagesToRead are addresses by the kind of page.
func pagesToRead(t *testing.T, base, sheets string) map[string][]string {
	t.Helper()
	pages := map[string][]string{}
	for _, path := range []string{"/", "/notebooks", "/orders/ask", "/runs", "/practice/old", "/desk", "/decisions", "/sheets", "/help", "/notebook/monthly-review"} {
		pages[path] = []string{path}
	}
	run := regexp.MustCompile(`/run/[a-z0-9-]+`).FindString(requireOK(t, base, "/runs"))
	require.NotEmpty(t, run)
	pages["a stored run"] = []string{run}
	pages["orders behind a count"] = regexp.MustCompile(run+`/behind/[0-9a-f]+`).FindAllString(requireOK(t, base, run), 12)
	f, err := os.Open(filepath.Join(sheets, "orders.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	for i := range 24 {
		res, err := http.PostForm(base+"/find", url.Values{"order": {rows[1+i*(len(rows)-1)/24][0]}})
		require.NoError(t, err)
		res.Body.Close()
		require.Equal(t, 200, res.StatusCode)
		pages["an order"] = append(pages["an order"], res.Request.URL.Path)
	}
	return pages
}

func requireOK(t *testing.T, base, path string) string {
	t.Helper()
	res, err := http.Get(base + path)
	require.NoError(t, err)
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	require.Equal(t, 200, res.StatusCode, path)
	return string(b)
}

func uploadSheets(t *testing.T, base, dir string) {
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for _, name := range []string{"orders.csv", "forms.csv", "measurements.csv", "outcomes.csv"} {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if !assert.NoError(t, err) {
			return
		}
		w, err := form.CreateFormFile("sheets", name)
		if !assert.NoError(t, err) {
			return
		}
		_, _ = w.Write(b)
	}
	form.Close()
	res, err := http.Post(base+"/sheets/load", form.FormDataContentType(), &body)
	if !assert.NoError(t, err) {
		return
	}
	res.Body.Close()
	job := res.Request.URL.Path
	for !strings.HasSuffix(job, "/loaded") {
		time.Sleep(50 * time.Millisecond)
		res, err := http.Get(base + job)
		if !assert.NoError(t, err) {
			return
		}
		res.Body.Close()
		job = res.Request.URL.Path
	}
}

// readAll lets thirty readers read and holds the times by kind of page to the
// limits.
func readAll(t *testing.T, base string, pages map[string][]string, visits int) {
	t.Helper()
	const readers = 30
	kinds := slices.Sorted(maps.Keys(pages))
	client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: readers}, Timeout: time.Minute}
	defer client.CloseIdleConnections()
	var mu sync.Mutex
	took := map[string][]time.Duration{}
	began, busy, before := time.Now(), processorTime(), machineTime(t)
	var all sync.WaitGroup
	for k := range readers {
		all.Go(func() {
			choose := rand.New(rand.NewPCG(uint64(k), 1))
			for range visits {
				kind := kinds[choose.IntN(len(kinds))]
				path := pages[kind][choose.IntN(len(pages[kind]))]
				at := time.Now()
				res, err := client.Get(base + path)
				if !assert.NoError(t, err) {
					return
				}
				_, err = io.Copy(io.Discard, res.Body)
				res.Body.Close()
				d := time.Since(at)
				assert.NoError(t, err)
				assert.Equal(t, 200, res.StatusCode, path)
				mu.Lock()
				took[kind] = append(took[kind], d)
				mu.Unlock()
			}
		})
	}
	all.Wait()
	wall := time.Since(began)
	left := before.left(machineTime(t))
	t.Logf("%d pages in %.1f s, %.1f s of processors; %.0f %% of the machine was left to this test", readers*visits,
		wall.Seconds(), (processorTime() - busy).Seconds(), 100*left)
	for _, kind := range kinds {
		list := took[kind]
		slices.Sort(list)
		p95 := list[(len(list)*95+99)/100-1]
		t.Logf("%-24s %4d  p50 %5.1f ms  p95 %5.1f ms", kind, len(list), ms(list[len(list)/2]), ms(p95))
		limit := 100.0
		if kind == "/practice/old" || kind == "orders behind a count" { // a list of up to 500 orders
			limit = 300
		}
		if !breadth.Campaign() { // other tests run at the same time: that nobody starves is all to be seen there
			limit *= 5
		}
		assert.Less(t, ms(p95)*left, limit, "%s: p95 in ms, of an otherwise idle machine", kind)
	}
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(fmt.Sprint("the system does not tell the processor time: ", err))
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// machineUse is how long the processors of the machine were at work for all
// programs, and had nothing to do; and how long this test kept them busy.
type machineUse struct{ all, idle, own float64 }

// machineTime reads /proc/stat (proc(5): ticks of user, nice, system, idle, iowait,
// irq, softirq, steal). Where there is none, all of the machine is said to be left.
func machineTime(t *testing.T) machineUse {
	t.Helper()
	text, err := os.ReadFile("/proc/stat")
	if err != nil {
		return machineUse{}
	}
	line, _, _ := strings.Cut(string(text), "\n")
	var u machineUse
	for i, word := range strings.Fields(line)[1:9] {
		n, err := strconv.ParseFloat(word, 64)
		require.NoError(t, err)
		u.all += n
		if i == 3 || i == 4 {
			u.idle += n
		}
	}
	u.own = processorTime().Seconds() * 100 // ticks a second
	return u
}

// left is the share of the machine between two looks that other programs left.
func (u machineUse) left(now machineUse) float64 {
	if now.all == u.all {
		return 1
	}
	return min(1, (now.idle-u.idle+now.own-u.own)/(now.all-u.all))
}
