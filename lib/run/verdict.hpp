// The verdict and its reasons, from an account that is otherwise complete.
#pragma once

#include "run/run.hpp"

namespace vacuary::run {

// Sets verdict and reasons. within_limits: the film and its expanded uncertainty lie inside the
// tolerance and nothing asks for a look. out_of_limits: the film's value lies outside, or something
// of severity error happened. review: everything between.
void decide(Account& account, bool lays_film);

}  // namespace vacuary::run
