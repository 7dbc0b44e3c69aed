// Front door of `physics`: quantities to quantities, one model a file. No files, no plan.
//
// Each header states its equations with numbers, their range and their source; README.md tells the
// theory in full and lists the outside values every model is held against.
#pragma once

#include "physics/conductance.hpp"        // IWYU pragma: export
#include "physics/estimates.hpp"          // IWYU pragma: export
#include "physics/film_map.hpp"           // IWYU pragma: export
#include "physics/flow.hpp"               // IWYU pragma: export
#include "physics/gas.hpp"                // IWYU pragma: export
#include "physics/gauge.hpp"              // IWYU pragma: export
#include "physics/glow.hpp"               // IWYU pragma: export
#include "physics/heat.hpp"               // IWYU pragma: export
#include "physics/kinetic.hpp"            // IWYU pragma: export
#include "physics/nonlinear_fit.hpp"      // IWYU pragma: export
#include "physics/optical_constants.hpp"  // IWYU pragma: export
#include "physics/optics.hpp"             // IWYU pragma: export
#include "physics/pumpdown.hpp"           // IWYU pragma: export
#include "physics/pumpdown_fit.hpp"       // IWYU pragma: export
#include "physics/quartz.hpp"             // IWYU pragma: export
#include "physics/rate_of_rise.hpp"       // IWYU pragma: export
#include "physics/regression.hpp"         // IWYU pragma: export
#include "physics/scatter.hpp"            // IWYU pragma: export
#include "physics/sputter.hpp"            // IWYU pragma: export
#include "physics/transport.hpp"          // IWYU pragma: export
#include "physics/uncertainty.hpp"        // IWYU pragma: export
#include "physics/yield.hpp"              // IWYU pragma: export
