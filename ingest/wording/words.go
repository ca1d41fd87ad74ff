package wording

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// The words in this file are how workshops write what the order sheets have a
// word for, in English, German, Spanish and Italian. They are judgement: common
// words of the trade and of Plain speech, no source. A mapping adds its own.

// Sides are how a foot is named in a header or a cell.
var Sides = dictionary(map[string]string{
	"left":  "l, left, lt, lft, left foot, li, li., links, linker, linker fuß, izq, izq., izquierdo, izquierda, sx, sinistro, sinistra",
	"right": "r, right, rt, rgt, right foot, re, re., rechts, rechter, rechter fuß, der, der., derecho, derecha, dx, destro, destra",
})

// Points are how the places of the tape are named.
var Points = dictionary(map[string]string{
	"length":  "length, foot length, länge, fußlänge, fusslänge, largo, longitud, lunghezza",
	"breadth": "breadth, width, foot width, breite, fußbreite, ancho, larghezza",
	"ball":    "ball, ball girth, joint, joints, joint girth, ballen, ballenumfang, ballenmaß, bola, juanete, metatarso, pianta",
	"instep":  "instep, instep girth, spann, rist, spannumfang, empeine, collo, collo del piede",
	"heel":    "heel, heel girth, short heel, long heel, ferse, fersenmaß, fersenumfang, talón, talon, tallone, calcagno",
	"ankle":   "ankle, ankle girth, knöchel, knoechel, fessel, knöchelumfang, tobillo, caviglia",
	"calf":    "calf, calf girth, largest calf, wade, wadenumfang, pantorrilla, gemelo, polpaccio",
})

// YesNo are how a tick box is filled in.
var YesNo = dictionary(map[string]string{
	"yes": "yes, y, x, ja, j, sí, si, s, true, ✓, ✔, √, ☑, 1",
	"no":  "no, n, nein, false, ✗, ☐, 0",
})

// Blank stand in a cell where there is nothing to say.
var Blank = map[string]bool{"?": true, "??": true, "-": true, "–": true, "—": true, "n/a": true, "na": true, "k.a.": true, "--": true, "s/d": true, "n/d": true}

// months by the first three letters of their names, where these are of that
// month alone.
var months = func() map[string]int {
	m := map[string]int{}
	for i, names := range []string{"jan jän ene gen", "feb", "mar mär mrz", "apr abr", "may mai mag", "jun giu", "jul lug", "aug ago", "sep set", "oct okt ott", "nov", "dec dez dic"} {
		for _, n := range strings.Fields(names) {
			m[n] = i + 1
		}
	}
	return m
}()

// fitPhrases are what people say of a boot that does not fit. A phrase counts
// where its words stand in a text one after another; the longer one goes first.
var fitPhrases = phrases(map[string]string{
	"toe":       "toe, toes, toe box, zehe, zehen, zehenbox, dedos, dedo, puntera, dita, punta",
	"ball":      "ball, joint, joints, ballen, juanete, metatarso, pianta",
	"instep":    "instep, spann, rist, empeine, collo del piede",
	"heel":      "heel, heels, ferse, fersen, talón, talon, tallone",
	"ankle":     "ankle, ankles, knöchel, fessel, tobillo, caviglia",
	"calf":      "calf, calves, wade, waden, pantorrilla, polpaccio",
	"top":       "top, at the top, top of the shaft, schaftrand, oben, oberer rand, boca, arriba, bordo, in alto",
	"length":    "length, länge, longitud, lunghezza",
	"tight":     "tight, too tight, snug, pinches, pinching, narrow, too small, eng, zu eng, drückt, spannt, apretado, aprieta, estrecho, stretto, stretta, stringe",
	"loose":     "loose, too loose, slips, baggy, wide, too big, weit, zu weit, locker, rutscht, flojo, suelto, ancho",
	"short":     "short, too short, kurz, zu kurz, corto, corta",
	"long":      "long, too long, lang, zu lang, demasiado largo, lungo, lunga, troppo lungo",
	"left":      "l, left, left foot, links, li, linker, linke, izquierdo, izquierda, izq, sinistro, sinistra, sx",
	"right":     "r, right, right foot, rechts, re, rechter, rechte, derecho, derecha, dcho, destro, destra, dx",
	"both":      "both, both feet, l+r, l + r, l/r, r+l, l and r, beide, beidseitig, ambos, entrambi, tutti e due",
	"measuring": "measured wrong, measuring error, falsch gemessen, vermessen, mal medido, misurato male",
})

// causePhrases are what people say of whose fault a remake was.
var causePhrases = phrases(map[string]string{
	"measuring":  "tape, measuring, measured, measured wrong, measurement, measures, gemessen, maß, maßfehler, vermessen, medida, medición, misura",
	"pattern":    "pattern, last, schnitt, leisten, patrón, horma, modello, forma",
	"making":     "lasting, making, made wrong, sewing, stitching, us, machart, genäht, gezwickt, montado, montaggio, cosido",
	"material":   "leather, material, leather stretched, leder, cuero, piel, cuoio, pelle",
	"preference": "preference, taste, customer, changed mind, geschmack, kunde, gusto, preferencia",
	"unknown":    "unknown, ?, unklar, unbekannt, no sé, boh",
})

// FitColumn is the column of outcomes that each word of fitPhrases belongs to.
var FitColumn = map[string]string{
	"toe": "zone", "ball": "zone", "instep": "zone", "heel": "zone", "ankle": "zone", "calf": "zone", "top": "zone", "length": "zone",
	"tight": "direction", "loose": "direction", "short": "direction", "long": "direction",
	"left": "side", "right": "side", "both": "side",
	"measuring": "cause", "pattern": "cause", "making": "cause", "material": "cause", "preference": "cause", "unknown": "cause",
}

func dictionary(words map[string]string) map[string]string {
	m := map[string]string{}
	for to, list := range words {
		for _, w := range strings.Split(list, ", ") {
			m[w] = to
		}
	}
	return m
}

// Plain is a text as words are compared: lower case, blanks single, none at
// the ends.
func Plain(text string) string { return strings.Join(strings.Fields(strings.ToLower(text)), " ") }

// A phrase is a text to be looked for, and what it means.
type Phrase struct{ Says, Means string }

// phrases lists phrases, longest first.
func phrases(words map[string]string) (out []Phrase) {
	for says, means := range dictionary(words) {
		out = append(out, Phrase{says, means})
	}
	SortPhrases(out)
	return out
}

// SortPhrases puts the longest first, which is looked for first.
func SortPhrases(out []Phrase) {
	slices.SortFunc(out, func(a, b Phrase) int { return longest(a.Says, b.Says) })
}

func longest(a, b string) int {
	return cmp.Or(cmp.Compare(len(b), len(a)), cmp.Compare(a, b))
}

// Cut takes a phrase out of a plain text, where it stands with no letter or
// digit before or after it; never an empty one.
func Cut(text, phrase string) (rest string, ok bool) {
	if phrase == "" {
		return text, false
	}
	for from := 0; ; {
		at := strings.Index(text[from:], phrase)
		if at < 0 {
			return text, false
		}
		at += from
		end := at + len(phrase)
		before, _ := utf8.DecodeLastRuneInString(text[:at])
		after, _ := utf8.DecodeRuneInString(text[end:])
		if !inWord(before) && !inWord(after) {
			return text[:at] + " · " + text[end:], true
		}
		from = end
	}
}

func inWord(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }

// ReadFit reads what a text says of a boot: by column of outcomes, the word.
// Own phrases go before the usual ones. Where two words of one column stand in
// a text, left and right are both, too tight goes before what else is said, and
// otherwise nothing is taken: it can't be told which is meant. some is whether
// anything was found.
func ReadFit(text string, own []Phrase) (found map[string]string, some bool) {
	text = Plain(text)
	all := map[string][]string{}
	take := func(list []Phrase, usual bool) {
		for _, p := range list {
			column := FitColumn[p.Means]
			if usual && column == "cause" && all[column] != nil {
				continue
			}
			for rest, ok := Cut(text, p.Says); ok; rest, ok = Cut(text, p.Says) {
				text, some = rest, true
				if !slices.Contains(all[column], p.Means) {
					all[column] = append(all[column], p.Means)
				}
			}
		}
	}
	take(own, false)
	take(fitPhrases, true)
	found = map[string]string{}
	for column, words := range all {
		switch {
		case len(words) == 1:
			found[column] = words[0]
		case column == "side":
			found[column] = "both"
		}
	}
	// A boot that is too short or too long is so in length.
	if d := found["direction"]; found["zone"] == "" && (d == "short" || d == "long") {
		found["zone"] = "length"
	}
	return found, some
}

// Cause is the cause that a word for whose fault a remake was names; "" for
// none that is known.
func Cause(text string) string {
	text = Plain(text)
	for _, p := range causePhrases {
		if _, ok := Cut(text, p.Says); ok {
			return p.Means
		}
	}
	return ""
}

var clockTime = regexp.MustCompile(`[ T]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?( ?[AaPp]\.?[Mm]\.?)?Z?$`)

// clothings tell the second set, taken over the trouser leg.
var clothings = dictionary(map[string]string{
	"tucked": "tucked, over trousers, over trouser, over jeans, over the jeans, jeans, over pants, with trousers, trousers, über hose, ueber hose, über der hose, mit hose, sobre pantalón, con pantalón, sopra i pantaloni, con pantaloni",
	"bare":   "bare, bare leg, skin, nackt, ohne hose, sin pantalón, senza pantaloni",
})
