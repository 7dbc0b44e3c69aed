// The verdict on pumps, walls and leaks, told apart by shape:
//
//   wet walls     a plateau where water boils (6 to 23 mbar); afterwards the pressure several times what is
//                 normal with the usual slope, while the pumps take argon as ever; a rise that bends over
//   real leak     the fall flattens more than any outgassing explains; a rise that stays straight
//   shaft seal    gas once per turn of the optic, and none of it while the optic rests
//   weak pump     more pressure at the same flow; warming: it grows through the step
//   cannot tell   the pressure is high, and the log lacks what would say why
//
// What is normal comes from the chamber file's history, else from the plan's prediction with its wide doubt.
#pragma once

#include "run/vacuum.hpp"
#include "run/watch.hpp"

namespace vacuary::run {

// Fills walls, against_normal and verdicts of `health`, which has its speeds, pulses and rises already;
// adds a deviation `wet-load` for wet walls that show no plateau.
void judge_health(const Scene& scene, const VacuumWatch::Seen& seen, VacuumHealth& health,
                  Findings& findings);

}  // namespace vacuary::run
