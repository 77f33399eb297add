// Package effort says how much the tests are to do. Only tests use it.
//
// Plain tests hold on any machine, however busy: nothing that they assert depends on how fast it is.
//
//	EVENDRAW_TEST_ALL=1     in full: long statistics, many engines, tools that must then be there (Whole, Of, Need)
//	EVENDRAW_TEST_QUIET=1   bounds in real time, for a quiet machine: tests named TestQuiet… (Quiet)
//
// In: the environment. Out: how many rows and seeds, or a test that is skipped. Begin with Whole and Of.
package effort
