package propose

import (
	"regexp"
	"strings"

	"lastroom/ingest/wording"
)

// A role is what a column seems to be: a column of an order sheet, or several
// of them that one cell fills.
type role string

// Roles that are no single column of a sheet.
const (
	roleTaker   role = "who measured" // channel, measurer, measured by the wearer
	roleMarks   role = "tape marks"
	roleRemade  role = "made again"
	roleFit     role = "how it fitted" // free text: result and reason
	roleReason  role = "what was wrong"
	roleSide    role = "foot"
	rolePlace   role = "place"
	roleHeight  role = "height"
	roleReading role = "reading"
	roleSpot    role = "number"
)

// headerWords are how workshops head their columns, in English, German, Spanish
// and Italian; judgement, no source.
var headerWords = map[role]string{
	"orders.order_id":         "order, order id, order no, order no., order #, order number, order nr, no, no., nr, nr., #, job, job no, job #, number, auftrag, auftragsnr, auftragsnummer, auftrag nr, bestellung, bestellnummer, pedido, n° pedido, nº, ordine, n. ordine, commessa",
	"orders.customer_id":      "customer, customer no, customer id, customer #, client, who, person, wearer, kunde, kundin, kundennr, kunden-nr, kundennummer, kunde nr, cliente, n° cliente",
	"orders.received_on":      "in, date in, came, came in, received, received on, ordered, order date, date, taken, eingang, eingegangen, bestellt, datum, auftragsdatum, entrada, fecha, fecha pedido, ricevuto, data, data ordine, arrivo",
	"orders.cut_on":           "cut, cut on, date cut, leather cut, zuschnitt, zugeschnitten, geschnitten, cortado, corte, taglio, tagliato",
	"orders.shipped_on":       "out, shipped, shipped on, sent, sent on, date out, delivered, ship date, versand, versandt, verschickt, ausgang, geliefert, lieferung, enviado, envío, entrega, spedito, spedizione, consegna",
	"orders.shaft_height":     "ht, height, shaft, shaft height, boot height, top, top height, schaft, schafthöhe, stiefelhöhe, höhe, altura, altura caña, caña, altezza, altezza gambale, gambale",
	"orders.closure":          "closure, style, fastening, type, verschluss, machart, cierre, chiusura",
	"orders.worn_tucked":      "tuck, tuck?, tucked, tucked in, tucked?, worn tucked, trousers inside, trousers in, pants in, inside, hose im stiefel, hose innen, hose rein, pantalón dentro, pantaloni dentro",
	"orders.sock":             "sock, socks, sock thickness, socke, socken, strumpf, calcetín, calza, calze",
	"orders.orthotic":         "orthotic, orthotics, insole, insert, einlage, einlagen, plantilla, plantillas, plantare",
	"orders.sex":              "sex, m/f, gender, geschlecht, sexo, sesso",
	"orders.earlier_order_id": "had before, earlier order, previous order, prev order, repeat of, before, frühere bestellung, früherer auftrag, pedido anterior, ordine precedente",
	"forms.irregularities":    "irregularities, foot notes, besonderheiten, auffälligkeiten, particularidades, particolarità",
	"outcomes.reported_on":    "remade on, made again on, remake date, redone on, fit date, reported, reported on, told on, nacharbeit am, neu gemacht am, gemeldet, gemeldet am, rehecho el, rifatto il",
	"outcomes.cost":           "cost, costs, $, €, remake cost, price of remake, kosten, coste, costo, costi",
	"outcomes.cause":          "cause, whose fault, fault, blame, ursache, schuld, causa, culpa, colpa",
	roleTaker:                 "measured by, taken by, taped by, by, meas., meas, measurer, measured, tape by, fitter, vermessen von, gemessen von, vermesser, maß von, medido por, misurato da",
	roleMarks:                 "marks, marks ok, marks ok?, tape marks, tape marks ok, striche, striche auf zeichnung, bandmarken, marcas, marcas ok, segni",
	roleRemade:                "remake, remake?, remade, remade?, made again, redone, redo, redo?, nacharbeit, neu gemacht, neuanfertigung, rehecho, rehecho?, rifatto, rifatto?",
	roleFit:                   "fit, fit?, how fit, fitting result, passform, passt, ajuste, calzata",
	roleReason:                "why, reason, remake reason, what was wrong, problem, complaint, grund, warum, reklamation, motivo, por qué, perché",
	roleSide:                  "foot, side, l/r, left/right, fuß, fuss, seite, pie, lado, piede, lato",
	rolePlace:                 "where, place, point, measure, measurement, stelle, maß, messpunkt, punto, lugar, medida, misura",
	roleHeight:                "height, ht, tape height, höhe, altura, altezza",
	roleReading:               "reading, value, number, result, wert, messwert, valor, lectura, valore, lettura",
}

// roleOf is the role that a header's words name, by the whole header.
func roleOf(header string) (role, bool) {
	h := bareHeader(header)
	r, ok := rolesByWord[h]
	if !ok {
		r, ok = rolesByWord[strings.TrimRight(h, "?.: ")]
	}
	return r, ok
}

// bareHeader takes off a header what stands in brackets, mostly its unit.
func bareHeader(header string) string {
	h := wording.Plain(strings.ReplaceAll(header, "_", " "))
	if i := strings.IndexByte(h, '('); i > 0 {
		h = strings.TrimSpace(h[:i])
	}
	return h
}

var rolesByWord = func() map[string]role {
	m := map[string]role{}
	for r, list := range headerWords {
		for _, w := range strings.Split(list, ", ") {
			if r != roleHeight || m[w] == "" { // height heads a boot's height in a wide table
				if _, ok := m[w]; !ok || r != roleHeight {
					m[w] = r
				}
			}
		}
	}
	return m
}()

// Words by which a column of few different texts is understood. Judgement, no
// source.
var (
	homeWords   = regexp.MustCompile(`^(customer|client|self|own|home|himself|herself|wearer|kunde( selbst)?|selbst|kundin( selbst)?|cliente|él mismo|da solo|own tape.*)$`)
	dealerWords = regexp.MustCompile(`^(dealer|agent|dlr|rep|händler|haendler|vertreter|agente|distribuidor|rivenditore|agente)\b.*$`)
	shopWords   = regexp.MustCompile(`^(us|shop|we|workshop|werkstatt|wir|haus|taller|bottega|noi)$`)
	pullOn      = regexp.MustCompile(`^(pull.?on|pull|slip.?on|schlupf|schlupfstiefel|sin cierre|infilare)$`)
	laceUp      = regexp.MustCompile(`^(lace.?up|laced?|laces|lacer|schnürung|schnür|schnürstiefel|cordones|lacci|stringato)$`)
	sockWords   = map[string]string{"thin": "thin", "medium": "medium", "thick": "thick", "dünn": "thin", "mittel": "medium", "dick": "thick",
		"fino": "thin", "medio": "medium", "grueso": "thick", "sottile": "thin", "spesso": "thick"}
	sexWords = map[string]string{"f": "f", "w": "f", "female": "f", "woman": "f", "frau": "f", "mujer": "f", "donna": "f",
		"m": "m", "male": "m", "man": "m", "mann": "m", "hombre": "m", "uomo": "m"}
	noShipping = regexp.MustCompile(`^(cancel.*|storniert|storno|annulliert|cancelado|anulado|annullato|never)$`)
	totalWords = regexp.MustCompile(`^[—–\-=* ]*(total|totals|sum|summe|gesamt|jobs|orders|count|suma|totale|somma)\b`)
	fitWords   = map[string]string{"remade": "remade", "redone": "remade", "made again": "remade", "neu gemacht": "remade", "rehecho": "remade", "rifatto": "remade",
		"stretched": "adjusted", "adjusted": "adjusted", "geweitet": "adjusted", "angepasst": "adjusted", "ajustado": "adjusted", "sistemato": "adjusted",
		"returned": "returned", "sent back": "returned", "zurück": "returned", "devuelto": "returned", "reso": "returned",
		"ok": "kept", "fine": "kept", "good": "kept", "great": "kept", "passt": "kept", "gut": "kept", "bien": "kept", "bene": "kept"}
	missingLeft  = regexp.MustCompile(`^(missing|fehlt|fehlen|no|falta|manca)\s+(l|left|links|li|izq|sx)\.?$`)
	missingRight = regexp.MustCompile(`^(missing|fehlt|fehlen|no|falta|manca)\s+(r|right|rechts|re|der|dx)\.?$`)
	missingBoth  = regexp.MustCompile(`^(missing|fehlt|fehlen|faltan|mancano)(\s+(both|beide|l\+r|ambos|entrambi))?$`)
	marksFine    = regexp.MustCompile(`^(ok|yes|y|ja|j|sí|si|all|alle|fine|good|✓|x)$`)
	marksNot     = regexp.MustCompile(`^(no|n|nein|none|keine)$`)
	againDay     = regexp.MustCompile(`(remade|remake|redone|made again|nacharbeit|neu gemacht|rehecho|rifatto)`)
	againTab     = regexp.MustCompile(`(remake|redone|redo|made again|nacharbeit|reklamation|rehechos?|rifatti)`)
)
