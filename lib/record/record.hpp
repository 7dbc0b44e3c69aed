// Front door of `record`: files to a bag that anybody can check, to signatures, to an archive, and
// back to trust or a named fault.
//
//   digest.hpp      checksums (FIPS 180-4, through libcrypto)
//   disk.hpp        the disk behind a small interface
//   bag.hpp         BagIt 1.0: reading and verifying
//   run_folder.hpp  BagIt 1.0: writing a run
#pragma once

#include "record/bag.hpp"         // IWYU pragma: export
#include "record/digest.hpp"      // IWYU pragma: export
#include "record/disk.hpp"        // IWYU pragma: export
#include "record/run_folder.hpp"  // IWYU pragma: export
