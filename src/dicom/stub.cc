#include "dicom/dicom.h"
const char *bk_dicom_toolkit(void) { return "none yet"; }
