// Front door of `record`: files to a bag that anybody can check, to signatures, to an archive, and
// back to trust or a named fault.
//
//   digest.hpp      checksums (FIPS 180-4, through libcrypto)
//   disk.hpp        the disk behind a small interface
//   bag.hpp         BagIt 1.0: reading and verifying
//   run_folder.hpp  BagIt 1.0: writing a run
//   statement.hpp   what a person signs
//   signature.hpp   OpenSSH signatures and allowed signers
//   stamp.hpp       RFC 3161 time stamps
//   run_check.hpp   is this run what was signed, by those who had to sign?
//   signing.hpp     signing, stamping, a new revision
//   ledger.hpp      the texts of an archive
//   archive.hpp     runs kept for decades
//   index.hpp       what can be asked of them quickly
//   trend.hpp       figures over many runs: limits, drift, what comes next
//   words.hpp       what people read of all this
#pragma once

#include "record/archive.hpp"     // IWYU pragma: export
#include "record/bag.hpp"         // IWYU pragma: export
#include "record/digest.hpp"      // IWYU pragma: export
#include "record/disk.hpp"        // IWYU pragma: export
#include "record/index.hpp"       // IWYU pragma: export
#include "record/ledger.hpp"      // IWYU pragma: export
#include "record/run_check.hpp"   // IWYU pragma: export
#include "record/run_folder.hpp"  // IWYU pragma: export
#include "record/signature.hpp"   // IWYU pragma: export
#include "record/signing.hpp"     // IWYU pragma: export
#include "record/stamp.hpp"       // IWYU pragma: export
#include "record/statement.hpp"   // IWYU pragma: export
#include "record/trend.hpp"       // IWYU pragma: export
#include "record/words.hpp"       // IWYU pragma: export
