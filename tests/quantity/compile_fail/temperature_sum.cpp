// Two absolute temperatures have no sum.
#include "case.hpp"
void use() {
#ifdef BAD
  take(warm + warm);
#else
  take(warm + difference);
#endif
}
