package table

import (
	"bytes"
	"strings"
)

// opening says where the table begins in a file and how it is written: loggers
// put lines about themselves before it, and scopes a line of units below the
// names.
type opening struct {
	before int  // lines before the first of the table
	sep    byte // 0: decided by the first line
	units  int  // number of the line of units, 0: none
}

const openingBytes = 64 << 10

// blanks stands for any run of blanks as separator.
const blanks = ' '

// looked is one line of the beginning of a file.
type looked struct {
	number int
	fields [][]byte
}

// openingOf looks at the beginning of a file. What it does not understand it
// leaves to the first line.
func openingOf(head []byte, whole bool) opening {
	lines := bytes.Split(head, []byte("\n"))
	if !whole && len(lines) > 1 {
		lines = lines[:len(lines)-1] // the last one is cut
	}
	var best opening
	most := 0.0
	for _, sep := range []byte{'\t', ';', ',', blanks} {
		if o, numbers := openingBy(sep, lines); numbers > most {
			best, most = o, numbers
		}
	}
	return best
}

// openingBy is the opening when sep parts the fields, and which share of them
// are numbers then: 0 where most lines do not have one number of fields.
func openingBy(sep byte, lines [][]byte) (o opening, numbers float64) {
	b := builder{sep: sep, comma: sep != ','}
	all, width := b.look(lines)
	if width == 0 {
		return o, 0
	}
	fits := func(i int) bool { return i < len(all) && fitting(all[i].fields, width) }
	first := 0
	for !fits(first) {
		first++
	}
	names := first
	for fits(names) && b.numbersIn(all[names].fields) == 0 {
		names++
	}
	for i := names; i < len(all); i++ {
		numbers += float64(b.numbersIn(all[i].fields)) / float64(width*len(all))
	}
	switch {
	case names > first:
		at := names - 1
		if at > first && areUnits(all[at].fields) {
			o.units = all[at].number
			at--
		}
		o.before = all[at].number - 1
	case first > 0 && len(all[first-1].fields) > 1:
		return o, 0 // names of another number of columns: for the first line to refuse
	default:
		o.before = all[first].number - 1
	}
	o.sep = sep
	return o, numbers
}

// look parts all lines that say something, and tells how many fields most of
// them have, at least two; 0 where there is no such number.
func (b *builder) look(lines [][]byte) (all []looked, width int) {
	count := map[int]int{}
	for i, line := range lines {
		if line = trimmed(line); !skipped(line) {
			b.split(line)
			n := len(b.fields)
			all = append(all, looked{i + 1, b.fields})
			if n > 1 && len(b.fields[n-1]) == 0 {
				n--
			}
			count[n]++
			b.fields = nil
		}
	}
	width = usual(count)
	if width < 2 || 2*count[width] <= len(all) {
		return nil, 0
	}
	return all, width
}

// fitting reports whether a line has so many fields, a separator at its end
// aside.
func fitting(fields [][]byte, width int) bool {
	n := len(fields)
	return n == width || n == width+1 && len(fields[width]) == 0
}

// usual is the most frequent number of fields.
func usual(count map[int]int) int {
	best := 0
	for n, times := range count {
		if times > count[best] || times == count[best] && n > best {
			best = n
		}
	}
	return best
}

func (b *builder) numbersIn(fields [][]byte) int {
	n := 0
	for _, f := range fields {
		if _, ok := b.number(f); ok {
			n++
		}
	}
	return n
}

// longestUnit is how many bytes a unit may take, brackets included.
const longestUnit = 10

// areUnits reports whether fields are units: short, and one of them known or in
// brackets.
func areUnits(fields [][]byte) bool {
	some := false
	for _, f := range fields {
		if len(f) > longestUnit {
			return false
		}
		inside := strings.Trim(string(f), "()[]")
		some = some || len(inside) < len(f) || UnitOf("in "+inside) != ""
	}
	return some
}

// nameWithUnit joins a name and the unit below it.
func nameWithUnit(name, unit string) string {
	if unit = strings.Trim(unit, "()[] "); unit == "" {
		return name
	}
	return name + " (" + unit + ")"
}
