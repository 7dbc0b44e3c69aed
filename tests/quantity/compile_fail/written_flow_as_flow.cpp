// A flow as written has no amount before a gas reference is named.
#include "case.hpp"
void use() {
#ifdef BAD
  take<MolarFlow>(written_flow);
#else
  take<MolarFlow>(written_flow.resolve(reference));
#endif
}
