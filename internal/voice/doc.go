// Package voice is what the ears are told: the words that a phone speaks, with their tones, and the rings of the
// terminal's bell. They are made of the large words that are shown, so that eye and ear are told the same thing at the
// same time.
//
// In: view.Words. Out: an Utterance for package page; rings for package job.
//
// Begin with Voice.Push.
package voice
