// Twice an absolute temperature means nothing.
#include "case.hpp"
void use() {
#ifdef BAD
  take(2.0 * warm);
#else
  take(2.0 * difference);
#endif
}
