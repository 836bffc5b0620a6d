// Package report renders what is known of a job: as text for the terminal, as
// one HTML page to hand over or print, and single series as SVG pictures.
//
// There is one model of a job, made by [New]; the renderings only lay it out,
// so no rendering can claim more than another.
package report
