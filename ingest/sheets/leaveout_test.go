package sheets

import (
	"archive/zip"
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

func dropAnna(column, cell string) bool {
	return map[string]string{"order_id": "1", "customer_id": "anna", "form_id": "f1"}[column] == cell
}

func leaveOut(t *testing.T, name, text string) (left string, dropped int64, known bool) {
	t.Helper()
	dir := t.TempDir()
	path, to := filepath.Join(dir, name), filepath.Join(dir, "to")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	dropped, known, err := LeaveOut(context.Background(), path, to, filepath.Join(dir, "scratch"), dropAnna)
	require.NoError(t, err)
	if dropped > 0 {
		b, err := os.ReadFile(to)
		require.NoError(t, err)
		left = string(b)
	}
	return left, dropped, known
}

func TestLeaveOutOfText(t *testing.T) {
	left, n, known := leaveOut(t, "a.csv", "\ufeffOrder ID;form no\r\n1;1\r\n2;1\r\n\"1\";\"two\r\nlines\"\r\n 1 ;x\r\n3;1")
	require.True(t, known)
	require.Equal(t, int64(3), n)
	require.Equal(t, "\ufeffOrder ID;form no\r\n2;1\r\n3;1", left)

	// Nobody of that name, and a number elsewhere that looks like an id.
	_, n, known = leaveOut(t, "a.csv", "order_id,form_no\n2,1\n")
	require.True(t, known)
	require.Zero(t, n)

	// A row that can't be split goes when a part of it is the person's.
	left, n, _ = leaveOut(t, "a.csv", "order_id,x\n2,a\n1,\"b\"c\n3,d\n")
	require.Equal(t, int64(1), n)
	require.Equal(t, "order_id,x\n2,a\n3,d\n", left)

	_, _, known = leaveOut(t, "a.csv", "Kundin,L ball\n1,250\n")
	require.False(t, known)
	_, _, known = leaveOut(t, "a.csv", "item,value\nremake,1\n")
	require.True(t, known)
}

func TestLeaveOutOfWorkbook(t *testing.T) {
	f := excelize.NewFile()
	for i, row := range [][]any{
		{"form_id", "order_id", "irregularities"}, {"f1", "1", "hammer toe"}, {"f2", "2", "none"}, {"f3", "1", "none"},
	} {
		require.NoError(t, f.SetSheetRow("Sheet1", "A"+string(rune('1'+i)), &row))
	}
	b, err := f.WriteToBuffer()
	require.NoError(t, err)
	left, n, known := leaveOut(t, "a.xlsx", b.String())
	require.True(t, known)
	require.Equal(t, int64(2), n)
	dir := t.TempDir()
	path := filepath.Join(dir, "left.xlsx")
	require.NoError(t, os.WriteFile(path, []byte(left), 0o600))
	x, err := excelize.OpenFile(path)
	require.NoError(t, err)
	defer x.Close()
	rows, err := x.GetRows("Sheet1")
	require.NoError(t, err)
	require.Equal(t, [][]string{{"form_id", "order_id", "irregularities"}, {"f2", "2", "none"}}, rows)
	z, err := zip.OpenReader(path)
	require.NoError(t, err)
	defer z.Close()
	for _, entry := range z.File {
		r, err := entry.Open()
		require.NoError(t, err)
		text, err := io.ReadAll(r)
		require.NoError(t, err)
		require.NotContains(t, string(text), "hammer toe", entry.Name)
	}
}
