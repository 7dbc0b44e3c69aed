// Text with a flow is read as a WrittenFlow, since it may be sccm or mbar L/s.
#include "case.hpp"
#include "quantity/text.hpp"
void use() {
#ifdef BAD
  take(parse<MolarFlow>("1 sccm"));
#else
  take(parse<WrittenFlow>("1 sccm"));
#endif
}
