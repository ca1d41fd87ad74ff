package help

// german is how hard words stand in German texts, lower case, by the word's id: those of
// the catalogue of sentences, with their endings.
var german = map[string][]string{
	"adjusted":        {"bereinigt", "bereinigte", "bereinigten", "bereinigter", "bereinigtes", "berücksichtigt"},
	"as-of":           {"stichtag", "stichtags", "stichtages"},
	"avoidable":       {"vermeidbar", "vermeidbare", "vermeidbaren"},
	"baseline":        {"bezugszeit"},
	"bootstrap":       {"bootstrap"},
	"calibration":     {"kalibrierung"},
	"call-back":       {"rückfrage", "rückfragen"},
	"chance":          {"bloßer zufall", "bloßen zufall", "durch zufall", "zufall allein"},
	"cusum":           {"cusum"},
	"at-risk":         {"wo ein fehler sein kann", "ihn haben kann", "ihn haben können"},
	"false-discovery": {"anteil falscher befunde", "q-werte", "q-werten"},
	"e-value":         {"e-wert", "e-werte", "e-werts"},
	"first-form":      {"erster bogen", "erste bogen", "erster bögen", "erste bögen", "ersten bogen", "ersten bögen", "zuschnitt-bogen", "zuschnitt-bögen", "zuschnitt-bogens"},
	"goes-with":       {"einher", "geht einher", "gehen einher", "einhergeht", "einhergehen"},
	"interval":        {"bereich", "bereiche", "bereichs", "bereichen", "intervall", "intervalle", "intervalls", "intervallen"},
	"kept-out":        {"zurückgestellt", "zurückgestellte", "zurückgestellten"},
	"mature":          {"ausgereift", "ausgereifte", "ausgereiften", "ausgereifter", "lange genug draußen"},
	"no-word":         {"keine nachricht"},
	"not-known":       {"nicht bekannt", "nicht beurteilt", "nicht beurteilten"},
	"order-sheet":     {"auftragstabellen"},
	"promise":         {"versprechen", "versprechens", "versprochen", "versprochene", "versprochenen"},
	"risk":            {"risiko einer neuanfertigung"},
	"slipped-through": {"durchgerutscht", "durchgerutschte", "durchgerutschten", "trotzdem zugeschnitten"},
	"tape-mark":       {"bandmarke", "bandmarken"},
	"tracing":         {"umrisszeichnung", "umrisszeichnungen", "auf der zeichnung"},
	"tucked":          {"über der hose"},
}
