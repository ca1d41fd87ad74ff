package orderbook

import "lastroom/ingest/sheets"

func (l *loader) addMapped(s sheets.Source, t *sheets.Table) error { return nil }
