/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/dicom_files.h"

static void test_dicom__pixels_come_back_at_every_depth(void **state)
{
    (void)state;
    for (int32_t bits = 8; bits <= 16; bits++) {
        const bk_dicom_out out =
            plain_run(33, 47, 3, bits); /* odd sizes: the frames do not begin at even bytes */
        write_ok(&out);
        bk_dicom *file = open_ok(file_path);
        for (int32_t k = 3; k >= 1; k--)
            assert_pattern(file, k, bits);
        bk_dicom_close(file);
    }
}

static void test_dicom__description_comes_back(void **state)
{
    (void)state;
    const int32_t waves[] = {2, 5};
    bk_dicom_out out = plain_run(20, 24, 6, 10);
    out.r_waves = waves;
    out.r_waves_n = 2;
    write_ok(&out);
    bk_dicom *file = open_ok(file_path);
    bk_dicom_info info;
    bk_dicom_describe(file, &info);
    assert_string_equal(info.modality, "XA");
    assert_string_equal(info.sop_class, "1.2.840.10008.5.1.4.1.1.12.1");
    assert_string_equal(info.transfer_syntax, SYNTAX_EXPLICIT);
    assert_string_equal(info.acquired_at, "2026-03-02T10:11:12");
    assert_true(info.rows == 20 && info.cols == 24 && info.frames == 6 && info.bits_stored == 10);
    assert_true(info.intensity == BK_INTENSITY_LINEAR && info.intensity_sign == 1);
    assert_false(info.lossy || info.monochrome1 || info.is_signed || info.shutter || info.has_modality_lut);
    assert_near(info.frame_time_ms, 66.7, 0);
    assert_near(info.primary_deg, -30.5, 0);
    assert_near(info.secondary_deg, 20.25, 0);
    assert_near(info.sid_mm, 1050, 0);
    assert_near(info.sod_mm, 765, 0);
    assert_near(info.imager_spacing_mm[0], 0.28, 0);
    assert_near(info.imager_spacing_mm[1], 0.3, 0);
    assert_true(isnan(info.lossy_ratio) && isnan(info.pixel_spacing_mm[0]));
    assert_int_equal(info.warnings_n, 0);
    double times[6];
    int32_t back[4];
    assert_int_equal(bk_dicom_frame_times(file, times, 6), 6);
    assert_near(times[5], 5 * 66.7, 1e-9);
    assert_int_equal(bk_dicom_r_waves(file, back, 4), 2);
    assert_true(back[0] == 2 && back[1] == 5);
    char sop[65], patient[65], wanted[65];
    bk_dicom_hashes(file, sop, patient);
    const char *identity = "INVENTED-1\nInvented^Run\n";
    bk_sha256(identity, strlen(identity), wanted);
    assert_string_equal(patient, wanted);
    assert_int_equal(strlen(sop), 64);
    bk_dicom_close(file);
}

static void test_dicom__absent_is_never_zero(void **state)
{
    (void)state;
    bk_dicom_out out = plain_run(8, 8, 2, 8);
    out.frame_time_ms = out.primary_deg = out.secondary_deg = out.sid_mm = out.sod_mm = (double)NAN;
    out.imager_spacing_mm[0] = out.imager_spacing_mm[1] = (double)NAN;
    out.intensity = BK_INTENSITY_ABSENT;
    out.acquired_at = NULL;
    out.patient_id = out.patient_name = NULL;
    write_ok(&out);
    bk_dicom *file = open_ok(file_path);
    bk_dicom_info info;
    bk_dicom_describe(file, &info);
    assert_true(isnan(info.frame_time_ms) && isnan(info.primary_deg) && isnan(info.secondary_deg));
    assert_true(isnan(info.sid_mm) && isnan(info.sod_mm) && isnan(info.imager_spacing_mm[1]));
    assert_true(info.intensity == BK_INTENSITY_ABSENT && info.acquired_at[0] == '\0' &&
                info.frame_times_n == 0);
    char sop[65], patient[65];
    bk_dicom_hashes(file, sop, patient);
    assert_string_equal(patient, "");
    bk_dicom_close(file);
}

static void test_dicom__log_lut_leads_to_intensity(void **state)
{
    (void)state;
    static float lut[1 << 10];
    for (int i = 0; i < 1 << 10; i++)
        lut[i] = (float)(i * 64);
    bk_dicom_out out = plain_run(8, 8, 1, 10);
    out.intensity = BK_INTENSITY_LOG;
    out.modality_lut = lut;
    write_ok(&out);
    bk_dicom *file = open_ok(file_path);
    bk_dicom_info info;
    bk_dicom_describe(file, &info);
    assert_true(info.has_modality_lut && info.intensity == BK_INTENSITY_LOG);
    static float back[1 << 10];
    bk_err err = {0};
    assert_int_equal(bk_dicom_modality_values(file, back, 1 << 10, &err), BK_OK);
    for (int i = 0; i < 1 << 10; i++)
        assert_near((double)back[i], i * 64, 0);
    assert_int_equal(bk_dicom_modality_values(file, back, 100, &err), BK_E_USAGE);
    bk_dicom_close(file);
}

static void test_dicom__same_call_same_bytes(void **state)
{
    (void)state;
    bk_dicom_out out = plain_run(16, 16, 2, 8);
    size_t n1, n2;
    write_ok(&out);
    uint8_t *first = load(&n1);
    write_ok(&out);
    uint8_t *second = load(&n2);
    assert_int_equal(n1, n2);
    assert_memory_equal(first, second, n1);
    free(second);
    out.uid_seed = "another";
    write_ok(&out);
    second = load(&n2);
    assert_true(n1 != n2 || memcmp(first, second, n1) != 0);
    free(first);
    free(second);
}

static void test_dicom__jpeg_reaches_about_the_ratio(void **state)
{
    (void)state;
    bk_dicom_out out = plain_run(256, 256, 4, 8);
    const double wanted[] = {5, 10, 20};
    for (size_t i = 0; i < 3; i++) {
        out.jpeg_ratio = wanted[i];
        write_ok(&out);
        bk_dicom *file = open_ok(file_path);
        bk_dicom_info info;
        bk_dicom_describe(file, &info);
        assert_true(info.lossy);
        assert_near(info.lossy_ratio / wanted[i], 1, 0.2);
        size_t n;
        free(load(&n)); /* and it is the ratio of what was really written, but for headers */
        assert_near(256 * 256 * 4 / info.lossy_ratio / (double)n, 1, 0.15);
        uint16_t *px = decode(file, 4), *truth = calloc(256 * 256, sizeof *truth);
        const run_pattern pattern = {256, 256, 8};
        run_pattern_fill(&pattern, 4, truth);
        double sum = 0;
        for (size_t k = 0; k < 256 * 256; k++)
            sum += fabs((double)px[k] - truth[k]);
        assert_near(sum / (256 * 256), 0,
                    5); /* noise of 2.55 grey levels is what compression removes first */
        free(px);
        free(truth);
        bk_dicom_close(file);
    }
}

static bk_status fail_at_3(void *context, int32_t frame, uint16_t *px, bk_err *err)
{
    run_pattern_fill(context, frame, px);
    return frame == 3 ? bk_fail(err, BK_E_NOTHING, "no frame 3") : BK_OK;
}

static void test_dicom__writing_is_all_or_nothing(void **state)
{
    (void)state;
    bk_dicom_out out = plain_run(16, 16, 4, 8);
    run_pattern pattern = {16, 16, 8};
    bk_err err = {0};
    unlink(file_path);
    assert_int_equal(bk_dicom_write(file_path, &out, fail_at_3, &pattern, &err), BK_E_NOTHING);
    assert_int_equal(access(file_path, F_OK), -1);
    write_ok(&out);
    size_t before, after;
    free(load(&before));
    err = (bk_err){0};
    out.rows = 32;
    assert_int_equal(bk_dicom_write(file_path, &out, fail_at_3, &pattern, &err), BK_E_NOTHING);
    free(load(&after));
    assert_int_equal(before, after);
    err = (bk_err){0};
    assert_int_equal(bk_dicom_write("/nonexistent/x.dcm", &out, run_pattern_next, &pattern, &err), BK_E_IO);
    char command[128]; /* no temporary file stays */
    snprintf(command, sizeof command, "test `ls -A %s | wc -l` = 1", folder);
    assert_int_equal(system(command), 0);
}

static void test_dicom__senseless_descriptions_are_not_written(void **state)
{
    (void)state;
    const bk_dicom_out good = plain_run(16, 16, 2, 8);
    const int32_t bad_wave = 3;
    bk_dicom_out bad[8];
    for (size_t i = 0; i < 8; i++)
        bad[i] = good;
    bad[0].rows = 0;
    bad[1].cols = BK_DICOM_SIDE_MAX + 1;
    bad[2].frames = 0;
    bad[3].bits_stored = 17;
    bad[4].uid_seed = NULL;
    bad[5].acquired_at = "yesterday";
    bad[6].bits_stored = 12;
    bad[6].jpeg_ratio = 10;
    bad[7].r_waves = &bad_wave;
    bad[7].r_waves_n = 1;
    unlink(file_path);
    for (size_t i = 0; i < 8; i++) {
        run_pattern pattern = {16, 16, 8};
        bk_err err = {0};
        assert_int_equal(bk_dicom_write(file_path, &bad[i], run_pattern_next, &pattern, &err), BK_E_USAGE);
        assert_int_equal(access(file_path, F_OK), -1);
    }
}

/* ---- bits ---- */

static void one_row(builder *b, image_form form, const uint16_t *cells, size_t n, const char *syntax)
{
    begin_file(b, syntax);
    put_text(b, 0x00080060, "CS", "XA");
    put_image(b, form);
    put_native(b, "OW", cells, 2 * n);
}

static void test_dicom__bits_around_the_stored_ones_are_dropped(void **state)
{
    (void)state;
    builder b = {0};
    bk_dicom_info info;
    /* an overlay bit in bit 12 above 12 stored bits */
    const uint16_t overlaid[4] = {0x1123, 0x0fff, 0xf000, 0x0001};
    one_row(&b, (image_form){1, 4, 16, 12, 11, 0, NULL, NULL}, overlaid, 4, SYNTAX_EXPLICIT);
    bk_dicom *file = open_built(&b, &info);
    uint16_t *px = decode(file, 1);
    assert_true(px[0] == 0x123 && px[1] == 0xfff && px[2] == 0 && px[3] == 1);
    free(px);
    bk_dicom_close(file);
    /* the same values in the high bits, with rubbish below */
    const uint16_t high[4] = {0x123f, 0xffff, 0x0007, 0x001a};
    one_row(&b, (image_form){1, 4, 16, 12, 15, 0, NULL, NULL}, high, 4, SYNTAX_EXPLICIT);
    file = open_built(&b, &info);
    px = decode(file, 1);
    assert_true(px[0] == 0x123 && px[1] == 0xfff && px[2] == 0 && px[3] == 1);
    free(px);
    bk_dicom_close(file);
    free(b.bytes);
}

static void test_dicom__signed_values_are_lifted(void **state)
{
    (void)state;
    builder b = {0};
    bk_dicom_info info;
    const uint16_t cells[4] = {0xf800 /* -2048 */, 0xffff /* -1 */, 0, 2047};
    one_row(&b, (image_form){1, 4, 16, 12, 11, 1, NULL, "MONOCHROME1"}, cells, 4, SYNTAX_EXPLICIT);
    bk_dicom *file = open_built(&b, &info);
    assert_true(info.is_signed && info.monochrome1);
    uint16_t *px = decode(file, 1);
    assert_true(px[0] == 0 && px[1] == 2047 && px[2] == 2048 && px[3] == 4095);
    free(px);
    static float values[4096];
    bk_err err = {0};
    assert_int_equal(bk_dicom_modality_values(file, values, 4096, &err), BK_OK);
    assert_near((double)values[0], -2048, 0);
    assert_near((double)values[4095], 2047, 0);
    bk_dicom_close(file);
    free(b.bytes);
}

static void test_dicom__rescale_gives_modality_values(void **state)
{
    (void)state;
    builder b = {0};
    bk_dicom_info info;
    const uint16_t cells[4] = {0, 1, 2, 3};
    begin_file(&b, SYNTAX_EXPLICIT);
    put_image(&b, (image_form){1, 4, 16, 8, 7, 0, NULL, NULL});
    put_text(&b, 0x00281052, "DS", "-5.5");
    put_text(&b, 0x00281053, "DS", "2.5e-1");
    put_native(&b, "OW", cells, 8);
    bk_dicom *file = open_built(&b, &info);
    static float values[256];
    bk_err err = {0};
    assert_true(info.has_modality_lut);
    assert_int_equal(bk_dicom_modality_values(file, values, 256, &err), BK_OK);
    assert_near((double)values[200], 44.5, 1e-6);
    bk_dicom_close(file);
    free(b.bytes);
}

/* Big-endian words of 8-bit pixels have the first pixel in the low byte (PS3.5 8.1.2, annex D). */
static void test_dicom__big_endian_words_of_bytes_are_unswapped(void **state)
{
    (void)state;
    builder b = {0};
    const uint8_t preamble[128] = {0};
    put_bytes(&b, preamble, 128);
    put_bytes(&b, "DICM", 4);
    put_text(&b, 0x00020010, "UI", SYNTAX_BIG);
    static const uint8_t header[] = {0,   0x28, 0,   2,    'U',  'S',  0,   2,    0,   1, /* samples */
                                     0,   0x28, 0,   4,    'C',  'S',  0,   12,   'M', 'O',  'N', 'O',
                                     'C', 'H',  'R', 'O',  'M',  'E',  '2', ' ',            /* photometric */
                                     0,   0x28, 0,   8,    'I',  'S',  0,   2,    '2', ' ', /* frames */
                                     0,   0x28, 0,   0x10, 'U',  'S',  0,   2,    0,   1,    0,   0x28,
                                     0,   0x11, 'U', 'S',  0,    2,    0,   3, /* 1 x 3 */
                                     0,   0x28, 1,   0,    'U',  'S',  0,   2,    0,   8,    0,   0x28,
                                     1,   1,    'U', 'S',  0,    2,    0,   8,    0,   0x28, 1,   2,
                                     'U', 'S',  0,   2,    0,    7,    0,   0x28, 1,   3,    'U', 'S',
                                     0,   2,    0,   0,    0x7f, 0xe0, 0,   0x10, 'O', 'W',  0,   0,
                                     0,   0,    0,   6,    2,    1,    4,   3,    6,   5};
    put_bytes(&b, header, sizeof header);
    bk_dicom_info info;
    bk_dicom *file = open_built(&b, &info);
    assert_int_equal(info.frames, 2);
    uint16_t *first = decode(file, 1), *second = decode(file, 2);
    assert_true(first[0] == 1 && first[1] == 2 && first[2] == 3);
    assert_true(second[0] == 4 && second[1] == 5 && second[2] == 6);
    free(first);
    free(second);
    bk_dicom_close(file);
    free(b.bytes);
}

/* ---- attributes ---- */

static void tiny_tail(builder *b, const char *frames)
{
    static const uint8_t px[400] = {0};
    put_image(b, (image_form){2, 2, 8, 8, 7, 0, frames, NULL});
    put_native(b, "OB", px, 4 * (size_t)(frames ? atoi(frames) : 1));
}

static void test_dicom__old_spellings_are_read_with_a_warning(void **state)
{
    (void)state;
    builder b = {0};
    bk_dicom_info info;
    begin_file(&b, SYNTAX_EXPLICIT);
    put_text(&b, 0x00080018, "UI", "999.999.1.2");
    put_text(&b, 0x00080022, "DA", "1997.04.24");
    put_text(&b, 0x00080032, "TM", "08:30:59");
    tiny_tail(&b, NULL);
    bk_dicom *file = open_built(&b, &info);
    assert_string_equal(info.acquired_at, "1997-04-24T08:30:59");
    assert_true(warned(&info, "date_spelling") && warned(&info, "uid"));
    bk_dicom_close(file);
    free(b.bytes);
}

static void test_dicom__dates_that_are_none_are_absent(void **state)
{
    (void)state;
    const char *dates[] = {"20260230", "20261301", "2026", "ABCDEFGH", "20260101"};
    const char *times[] = {"101112", "101112", "101112", "101112", "251112"};
    for (size_t i = 0; i < 5; i++) {
        builder b = {0};
        bk_dicom_info info;
        begin_file(&b, SYNTAX_EXPLICIT);
        put_text(&b, 0x00080022, "DA", dates[i]);
        put_text(&b, 0x00080032, "TM", times[i]);
        tiny_tail(&b, NULL);
        bk_dicom *file = open_built(&b, &info);
        assert_string_equal(info.acquired_at, "");
        bk_dicom_close(file);
        free(b.bytes);
    }
}

static void test_dicom__malformed_numbers_are_absent_with_a_warning(void **state)
{
    (void)state;
    const char *bad[] = {"1050,5", "nan", "0x10", "1050 mm", "1e999"};
    for (size_t i = 0; i < 5; i++) {
        builder b = {0};
        bk_dicom_info info;
        begin_file(&b, SYNTAX_EXPLICIT);
        put_text(&b, 0x00181110, "DS", bad[i]);
        put_text(&b, 0x00181111, "DS", "0");
        put_text(&b, 0x00181164, "DS", "0.2\\-0.2");
        put_text(&b, 0x00181510, "DS", "200");
        put_text(&b, 0x00181511, "DS", " -12.5 ");
        tiny_tail(&b, NULL);
        bk_dicom *file = open_built(&b, &info);
        assert_true(isnan(info.sid_mm) && warned(&info, "bad_number"));
        assert_true(isnan(info.sod_mm) && warned(&info, "not_positive"));
        assert_true(isnan(info.imager_spacing_mm[0]) && isnan(info.imager_spacing_mm[1]) &&
                    warned(&info, "spacing"));
        assert_true(isnan(info.primary_deg) && warned(&info, "angle_range"));
        assert_near(info.secondary_deg, -12.5, 0);
        bk_dicom_close(file);
        free(b.bytes);
    }
}

static void test_dicom__frame_times_follow_the_pointer(void **state)
{
    (void)state;
    builder b = {0};
    bk_dicom_info info;
    double times[4] = {0};
    const uint8_t points_to_vector[4] = {0x18, 0, 0x65, 0x10};
    begin_file(&b, SYNTAX_EXPLICIT);
    put_text(&b, 0x00181063, "DS", "40");
    put_text(&b, 0x00181065, "DS", "0\\30\\50\\30.5");
    put_head(&b, 0x00280009, "AT", 4); /* out of order among the image's, as some writers have it */
    put_bytes(&b, points_to_vector, 4);
    tiny_tail(&b, "4");
    bk_dicom *file = open_built(&b, &info);
    assert_true(isnan(info.frame_time_ms));
    assert_int_equal(bk_dicom_frame_times(file, times, 4), 4);
    assert_near(times[3], 110.5, 1e-12);
    bk_dicom_close(file);
    /* one step too few: the vector is of no use, the nominal time is */
    begin_file(&b, SYNTAX_EXPLICIT);
    put_text(&b, 0x00181063, "DS", "40");
    put_text(&b, 0x00181065, "DS", "0\\30\\50");
    put_head(&b, 0x00280009, "AT", 4);
    put_bytes(&b, points_to_vector, 4);
    tiny_tail(&b, "4");
    file = open_built(&b, &info);
    assert_true(warned(&info, "frame_times"));
    assert_near(info.frame_time_ms, 40, 0);
    bk_dicom_close(file);
    /* only a cine rate */
    begin_file(&b, SYNTAX_EXPLICIT);
    put_text(&b, 0x00180040, "IS", "15");
    tiny_tail(&b, "4");
    file = open_built(&b, &info);
    assert_true(warned(&info, "cine_rate"));
    assert_near(info.frame_time_ms, 1000.0 / 15, 1e-9);
    bk_dicom_close(file);
    free(b.bytes);
}

static void put_groups(builder *b)
{
    open_sequence(b, 0x00189405); /* positioner position */
    put_text(b, 0x00181510, "DS", "-25");
    put_text(b, 0x00181511, "DS", "15");
    close_sequence(b);
    open_sequence(b, 0x00189476); /* X-ray geometry */
    put_text(b, 0x00181110, "DS", "1100");
    put_head(b, 0x00189402, "FL", 4);
    const float sod = 780.5f;
    put_bytes(b, &sod, 4);
    close_sequence(b);
    open_sequence(b, 0x00289443); /* frame pixel data properties */
    put_text(b, 0x00181164, "DS", "0.154\\0.155");
    put_text(b, 0x00281040, "CS", "LIN");
    put_head(b, 0x00281041, "SS", 2);
    put_u16(b, 0xffff);
    close_sequence(b);
}

/* Enhanced XA: PS3.3 C.8.19.6; both places a group may be in. */
static void test_dicom__enhanced_geometry_is_in_groups(void **state)
{
    (void)state;
    const uint32_t places[] = {0x52009229, 0x52009230};
    for (size_t i = 0; i < 2; i++) {
        builder b = {.implicit = i == 1};
        bk_dicom_info info;
        static const uint8_t px[4] = {0};
        begin_file(&b, i == 1 ? SYNTAX_IMPLICIT : SYNTAX_EXPLICIT);
        put_text(&b, 0x00080016, "UI", "1.2.840.10008.5.1.4.1.1.12.1.1");
        put_image(&b, (image_form){2, 2, 8, 8, 7, 0, "1", NULL});
        open_sequence(&b, places[i]);
        put_groups(&b);
        close_sequence(&b);
        put_native(&b, "OB", px, 4);
        bk_dicom *file = open_built(&b, &info);
        assert_near(info.primary_deg, -25, 0);
        assert_near(info.secondary_deg, 15, 0);
        assert_near(info.sid_mm, 1100, 0);
        assert_near(info.sod_mm, 780.5, 0);
        assert_near(info.imager_spacing_mm[0], 0.154, 0);
        assert_near(info.imager_spacing_mm[1], 0.155, 0);
        assert_true(info.intensity == BK_INTENSITY_LINEAR && info.intensity_sign == -1);
        bk_dicom_close(file);
        free(b.bytes);
    }
}

static void test_dicom__shutter_and_flip_are_told(void **state)
{
    (void)state;
    builder b = {0};
    bk_dicom_info info;
    static const uint8_t px[600] = {0};
    begin_file(&b, SYNTAX_EXPLICIT);
    put_text(&b, 0x00181600, "CS", "RECTANGULAR\\CIRCULAR");
    put_text(&b, 0x00181602, "IS", "3");
    put_text(&b, 0x00181604, "IS", "99");
    put_text(&b, 0x00181606, "IS", "0");
    put_text(&b, 0x00181608, "IS", "18");
    put_text(&b, 0x00187034, "CS", "YES");
    put_image(&b, (image_form){20, 30, 8, 8, 7, 0, NULL, NULL});
    put_native(&b, "OB", px, 600);
    bk_dicom *file = open_built(&b, &info);
    assert_true(info.shutter && info.shutter_left == 2 && info.shutter_right == 29);
    assert_true(info.shutter_top == 0 && info.shutter_bottom == 17);
    assert_true(warned(&info, "view_flipped") && warned(&info, "shutter_shape"));
    bk_dicom_close(file);
    free(b.bytes);
}

static void test_dicom__doubtful_attributes_warn(void **state)
{
    (void)state;
    builder b = {0};
    bk_dicom_info info;
    static const uint8_t px[16] = {0};
    begin_file(&b, SYNTAX_EXPLICIT);
    put_text(&b, 0x00181110, "DS", "1000");
    put_text(&b, 0x00181114, "DS", "1.25"); /* defined as SID over SOD */
    put_text(&b, 0x00181520, "DS", "0\\2\\4\\6");
    put_image(&b, (image_form){2, 2, 8, 8, 7, 0, "4", NULL});
    put_text(&b, 0x00281040, "CS", "LOG");
    open_sequence(&b, 0x00283000);
    put_head(&b, 0x00283002, "US", 6);
    put_u16(&b, 256);
    put_u16(&b, 0);
    put_u16(&b, 16);
    put_head(&b, 0x00283006, "US", 4); /* two entries of 256 */
    put_u32(&b, 0);
    close_sequence(&b);
    put_head(&b, 0x00286040, "US", 4);
    put_u16(&b, 3);
    put_u16(&b, 9); /* beyond the last frame */
    put_native(&b, "OB", px, 16);
    bk_dicom *file = open_built(&b, &info);
    assert_near(info.sod_mm, 800, 0);
    assert_true(warned(&info, "sod_from_ermf") && warned(&info, "moving_view"));
    assert_true(warned(&info, "modality_lut") && warned(&info, "log_without_lut") && !info.has_modality_lut);
    assert_true(warned(&info, "r_wave") && info.r_waves_n == 1);
    bk_dicom_close(file);
    free(b.bytes);
}

/* 8-bit entries, two to a word (PS3.3 C.11.1.1); values beyond the LUT take its ends. */
static void test_dicom__packed_lut_is_unpacked(void **state)
{
    (void)state;
    builder b = {0};
    bk_dicom_info info;
    static const uint8_t px[4] = {0};
    begin_file(&b, SYNTAX_EXPLICIT);
    put_image(&b, (image_form){2, 2, 8, 8, 7, 0, NULL, NULL});
    open_sequence(&b, 0x00283000);
    put_head(&b, 0x00283002, "US", 6);
    put_u16(&b, 4);
    put_u16(&b, 10);
    put_u16(&b, 8);
    put_head(&b, 0x00283006, "OW", 4);
    put_bytes(&b, "\x05\x06\x07\x08", 4);
    close_sequence(&b);
    put_native(&b, "OB", px, 4);
    bk_dicom *file = open_built(&b, &info);
    static float values[256];
    bk_err err = {0};
    assert_int_equal(bk_dicom_modality_values(file, values, 256, &err), BK_OK);
    const int at[] = {0, 10, 11, 12, 13, 255}, wanted[] = {5, 5, 6, 7, 8, 8};
    for (size_t i = 0; i < 6; i++)
        assert_near((double)values[at[i]], wanted[i], 0);
    bk_dicom_close(file);
    free(b.bytes);
}

/* ---- fragments ---- */

/* A frame of RLE: one segment for 8 bits (PS3.5 annex G), all pixels alike, padded to an even length. */
static size_t rle_frame(uint8_t value, uint8_t out[72])
{
    memset(out, 0, 72);
    out[0] = 1;
    out[4] = 64;
    out[64] = (uint8_t)(257 - 4); /* a run of 4 */
    out[65] = value;
    return 66;
}

static void begin_rle(builder *b, const char *frames, const uint32_t *offsets, size_t n)
{
    begin_file(b, SYNTAX_RLE);
    put_image(b, (image_form){2, 2, 8, 8, 7, 0, frames, NULL});
    begin_fragments(b, offsets, n);
}

static void assert_values(bk_dicom *file, int32_t frames)
{
    for (int32_t k = 1; k <= frames; k++) {
        uint16_t *px = decode(file, k);
        for (int i = 0; i < 4; i++)
            assert_int_equal(px[i], 10 * k);
        free(px);
    }
}

static void test_dicom__fragments_of_odd_length(void **state)
{
    (void)state;
    for (int filled = 0; filled < 2;
         filled++) { /* without a filling byte, and with one that is not counted */
        builder b = {0};
        bk_dicom_info info;
        uint8_t frame[72];
        begin_rle(&b, "3", NULL, 0);
        for (int k = 1; k <= 3; k++) {
            rle_frame((uint8_t)(10 * k), frame);
            put_fragment(&b, frame, 67);
            if (filled)
                put_bytes(&b, "", 1);
        }
        put_item(&b, 0xe0dd, 0);
        bk_dicom *file = open_built(&b, &info);
        assert_true(warned(&info, "odd_fragment"));
        assert_values(file, 3);
        bk_dicom_close(file);
        free(b.bytes);
    }
}

/* The JPEG frames of a file written by us, cut in pieces and put together anew. */
typedef struct jpeg_run {
    uint8_t *bytes;
    size_t at[8], n[8], frames;
} jpeg_run;

static jpeg_run make_jpeg_run(int32_t frames)
{
    bk_dicom_out out = plain_run(64, 64, frames, 8);
    out.jpeg_ratio = 6;
    write_ok(&out);
    jpeg_run run = {0};
    size_t n;
    run.bytes = load(&n);
    for (size_t i = 0; i + 10 < n; i++) {
        const uint8_t item[] = {0xfe, 0xff, 0x00, 0xe0};
        if (memcmp(run.bytes + i, item, 4) != 0 || run.bytes[i + 8] != 0xff || run.bytes[i + 9] != 0xd8)
            continue;
        run.at[run.frames] = i + 8;
        run.n[run.frames++] =
            (size_t)run.bytes[i + 4] | (size_t)run.bytes[i + 5] << 8 | (size_t)run.bytes[i + 6] << 16;
    }
    assert_int_equal(run.frames, frames);
    return run;
}

static void begin_jpeg(builder *b, const char *frames, const uint32_t *offsets, size_t n)
{
    begin_file(b, SYNTAX_JPEG);
    put_image(b, (image_form){64, 64, 8, 8, 7, 0, frames, NULL});
    begin_fragments(b, offsets, n);
}

/* Every frame in two fragments. */
static void put_halves(builder *b, const jpeg_run *run)
{
    for (size_t k = 0; k < run->frames; k++) {
        const size_t half = run->n[k] / 4 * 2;
        put_fragment(b, run->bytes + run->at[k], half);
        put_fragment(b, run->bytes + run->at[k] + half, run->n[k] - half);
    }
    put_item(b, 0xe0dd, 0);
}

static void assert_same_frames(bk_dicom *file, const uint16_t *const *wanted, int32_t frames)
{
    for (int32_t k = 0; k < frames; k++) {
        uint16_t *px = decode(file, k + 1);
        assert_memory_equal(px, wanted[k], 64 * 64 * sizeof *px);
        free(px);
    }
}

static void test_dicom__frames_in_several_fragments(void **state)
{
    (void)state;
    const jpeg_run run = make_jpeg_run(3);
    bk_dicom *file = open_ok(file_path);
    uint16_t *wanted[3];
    for (int32_t k = 0; k < 3; k++)
        wanted[k] = decode(file, k + 1);
    bk_dicom_close(file);
    uint32_t right[3] = {0}, wrong[3] = {0, 7, 9};
    for (size_t k = 1; k < 3; k++)
        right[k] = right[k - 1] + 16 + (uint32_t)run.n[k - 1];
    const uint32_t *tables[] = {NULL, right, wrong};
    for (size_t t = 0; t < 3; t++) {
        builder b = {0};
        bk_dicom_info info;
        begin_jpeg(&b, "3", tables[t], t == 0 ? 0 : 3);
        put_halves(&b, &run);
        file = open_built(&b, &info);
        assert_int_equal(info.frames, 3);
        assert_int_equal(warned(&info, "offset_table"), t == 2);
        assert_same_frames(file, (const uint16_t *const *)wanted, 3);
        bk_dicom_close(file);
        free(b.bytes);
    }
    for (int32_t k = 0; k < 3; k++)
        free(wanted[k]);
    free(run.bytes);
}

static void test_dicom__a_cut_between_fragments_is_not_a_whole_frame(void **state)
{
    (void)state;
    const jpeg_run run = make_jpeg_run(4);
    /* of eight fragments keep some: four make two frames, though four is the number of all frames; of five
       the last is half a frame */
    const size_t kept[] = {3, 4, 5};
    const int32_t whole[] = {1, 2, 2};
    for (size_t t = 0; t < 3; t++) {
        builder b = {0};
        bk_dicom_info info;
        begin_jpeg(&b, "4", NULL, 0);
        put_halves(&b, &run);
        size_t items = 0;
        for (size_t i = 0; i + 4 < b.n; i++) {
            const uint8_t item[] = {0xfe, 0xff, 0x00, 0xe0};
            if (memcmp(b.bytes + i, item, 4) == 0 && ++items == kept[t] + 2) /* with that of the table */
                b.n = i;
        }
        bk_dicom *file = open_built(&b, &info);
        assert_int_equal(info.frames, whole[t]);
        assert_true(warned(&info, "truncated"));
        bk_dicom_close(file);
        free(b.bytes);
    }
    free(run.bytes);
}

static void test_dicom__damaged_frames_are_refused_others_stay(void **state)
{
    (void)state;
    jpeg_run run = make_jpeg_run(3);
    /* in the middle of frame 2's entropy-coded data: a marker that has no business there */
    run.bytes[run.at[1] + run.n[1] / 2] = 0xff;
    run.bytes[run.at[1] + run.n[1] / 2 + 1] = 0xd9;
    builder b = {0};
    bk_dicom_info info;
    begin_jpeg(&b, "3", NULL, 0);
    for (size_t k = 0; k < 3; k++)
        put_fragment(&b, run.bytes + run.at[k], run.n[k]);
    put_item(&b, 0xe0dd, 0);
    bk_dicom *file = open_built(&b, &info);
    uint16_t px[64 * 64];
    bk_err err = {0};
    free(decode(file, 1));
    free(decode(file, 3));
    assert_int_equal(bk_dicom_frame(file, 2, px, 64 * 64, &err), BK_E_DATA);
    assert_non_null(strstr(err.message, "frame 2"));
    for (int i = 0; i < 64 * 64; i++)
        assert_int_equal(px[i], 0);
    bk_dicom_close(file);
    free(b.bytes);
    free(run.bytes);
}

static void test_dicom__jpeg_of_another_size_is_refused(void **state)
{
    (void)state;
    const jpeg_run run = make_jpeg_run(1);
    builder b = {0};
    bk_dicom_info info;
    begin_file(&b, SYNTAX_JPEG);
    put_image(&b, (image_form){32, 32, 8, 8, 7, 0, "1", NULL});
    begin_fragments(&b, NULL, 0);
    put_fragment(&b, run.bytes + run.at[0], run.n[0]);
    put_item(&b, 0xe0dd, 0);
    bk_dicom *file = open_built(&b, &info);
    uint16_t px[32 * 32];
    bk_err err = {0};
    assert_int_equal(bk_dicom_frame(file, 1, px, 32 * 32, &err), BK_E_DATA);
    assert_non_null(strstr(err.message, "64 rows"));
    bk_dicom_close(file);
    free(b.bytes);
    free(run.bytes);
}

static void test_dicom__rle_with_wild_offsets_is_refused(void **state)
{
    (void)state;
    const uint8_t bad[][2] = {{4, 200}, {4, 0}, {0, 2}, {64, 250}};
    for (size_t i = 0; i < 4; i++) {
        builder b = {0};
        bk_dicom_info info;
        uint8_t frame[72], one[1] = {1};
        const size_t n = rle_frame(10, frame);
        frame[bad[i][0]] = bad[i][1];
        begin_rle(&b, "1", NULL, 0);
        put_fragment(&b, frame, n);
        put_item(&b, 0xe0dd, 0);
        bk_dicom *file = open_built(&b, &info);
        uint16_t px[4];
        bk_err err = {0};
        assert_int_equal(bk_dicom_frame(file, 1, px, 4, &err), BK_E_DATA);
        bk_dicom_close(file);
        begin_rle(&b, "1", NULL, 0); /* and one that is a single byte long */
        put_fragment(&b, one, 1);
        put_item(&b, 0xe0dd, 0);
        file = open_built(&b, &info);
        err = (bk_err){0};
        assert_int_equal(bk_dicom_frame(file, 1, px, 4, &err), BK_E_DATA);
        bk_dicom_close(file);
        free(b.bytes);
    }
}

/* ---- bad input ---- */

static void test_dicom__frame_numbers_and_room_are_checked(void **state)
{
    (void)state;
    const bk_dicom_out out = plain_run(8, 8, 2, 8);
    write_ok(&out);
    bk_dicom *file = open_ok(file_path);
    uint16_t px[64];
    const int32_t bad[] = {0, -1, 3};
    for (size_t i = 0; i < 3; i++) {
        bk_err err = {0};
        assert_int_equal(bk_dicom_frame(file, bad[i], px, 64, &err), BK_E_USAGE);
    }
    bk_err err = {0};
    assert_int_equal(bk_dicom_frame(file, 1, px, 63, &err), BK_E_USAGE);
    bk_dicom_close(file);
    bk_dicom_close(NULL);
}

static void test_dicom__what_is_not_dicom_is_refused(void **state)
{
    (void)state;
    char path[128];
    refused(folder, BK_E_DATA, "folder");
    refused("/nonexistent/x.dcm", BK_E_IO, "cannot be read");
    refused("/dev/null", BK_E_DATA, "device");
    snprintf(path, sizeof path, "%s/pipe", folder);
    assert_int_equal(mkfifo(path, 0600), 0);
    refused(path, BK_E_DATA, "pipe");
    unlink(path);
    save_bytes(file_path, "", 0);
    refused(file_path, BK_E_DATA, "empty");
    save_bytes(file_path, "hello", 5);
    refused(file_path, BK_E_DATA, "not DICOM");
    static uint8_t png[4096] = {0x89, 'P', 'N', 'G'};
    save_bytes(file_path, png, sizeof png);
    refused(file_path, BK_E_DATA, "DICM");
}

static void refuse_image(image_form form, const char *syntax, bk_status status, const char *part)
{
    builder b = {0};
    static const uint8_t px[4096] = {0};
    begin_file(&b, syntax);
    put_image(&b, form);
    put_native(&b, "OW", px, sizeof px);
    refused_built(&b, status, part);
    free(b.bytes);
}

static void test_dicom__impossible_images_are_refused(void **state)
{
    (void)state;
    const char *e = SYNTAX_EXPLICIT;
    refuse_image((image_form){0, 4, 8, 8, 7, 0, NULL, NULL}, e, BK_E_DATA, "0 rows");
    refuse_image((image_form){65535, 65535, 16, 16, 15, 0, NULL, NULL}, e, BK_E_DATA, "65535 rows");
    refuse_image((image_form){8192, 8192, 16, 16, 15, 0, NULL, NULL}, e, BK_E_DATA,
                 "without one whole frame");
    refuse_image((image_form){4, 4, 8, 8, 7, 0, "0", NULL}, e, BK_E_DATA, "number of frames");
    refuse_image((image_form){4, 4, 8, 8, 7, 0, "-3", NULL}, e, BK_E_DATA, "number of frames");
    refuse_image((image_form){4, 4, 8, 8, 7, 0, "many", NULL}, e, BK_E_DATA, "number of frames");
    refuse_image((image_form){4, 4, 8, 8, 7, 0, "2000000000", NULL}, e, BK_E_LIMIT, "frames");
    refuse_image((image_form){4, 4, 8, 8, 7, 0, NULL, "RGB"}, e, BK_E_DATA, "colour");
    refuse_image((image_form){4, 4, 8, 8, 7, 0, NULL, "PALETTE COLOR"}, e, BK_E_DATA, "colour");
    refuse_image((image_form){4, 4, 32, 32, 31, 0, NULL, NULL}, e, BK_E_DATA, "32 bits");
    refuse_image((image_form){4, 4, 16, 7, 6, 0, NULL, NULL}, e, BK_E_DATA, "7 bits");
    refuse_image((image_form){4, 4, 8, 12, 11, 0, NULL, NULL}, e, BK_E_DATA, "12 bits");
    refuse_image((image_form){4, 4, 16, 12, 3, 0, NULL, NULL}, e, BK_E_DATA, "high bit");
    refuse_image((image_form){4, 4, 8, 8, 7, 0, NULL, NULL}, SYNTAX_MPEG2, BK_E_DATA, "transfer syntax");
    refuse_image((image_form){4, 4, 8, 8, 7, 0, NULL, NULL}, "1.2.3", BK_E_DATA, "transfer syntax");
    refuse_image((image_form){4, 4, 8, 8, 7, 0, NULL, NULL}, SYNTAX_JPEG, BK_E_DATA,
                 "uncompressed pixel data");
}

static void test_dicom__a_data_set_without_pixels_is_refused(void **state)
{
    (void)state;
    builder b = {0};
    begin_file(&b, SYNTAX_EXPLICIT);
    put_image(&b, (image_form){4, 4, 8, 8, 7, 0, NULL, NULL});
    refused_built(&b, BK_E_DATA, "without pixel data");
    b.n = 132; /* only the mark */
    refused_built(&b, BK_E_DATA, "transfer syntax");
    /* the pixels of an icon are not those of the image */
    begin_file(&b, SYNTAX_EXPLICIT);
    put_image(&b, (image_form){4, 4, 8, 8, 7, 0, NULL, NULL});
    open_sequence(&b, 0x00880200);
    put_native(&b, "OB", "0123456789abcdef", 16);
    close_sequence(&b);
    refused_built(&b, BK_E_DATA, "without pixel data");
    free(b.bytes);
}

static void test_dicom__deep_nesting_is_refused(void **state)
{
    (void)state;
    for (int implicit = 0; implicit < 2; implicit++)
        for (int private = 0; private < 2; private ++) {
            builder b = {.implicit = implicit};
            begin_file(&b, implicit ? SYNTAX_IMPLICIT : SYNTAX_EXPLICIT);
            for (int i = 0; i < 100000; i++)
                open_sequence(&b, private ? 0x00091000 : 0x00081140);
            refused_built(&b, BK_E_LIMIT, "nested");
            free(b.bytes);
        }
    /* in implicit VR, sequences of stated length look like any value */
    builder b = {.implicit = true};
    begin_file(&b, SYNTAX_IMPLICIT);
    const uint32_t levels = 20000;
    for (uint32_t i = 0; i < levels; i++) {
        put_head(&b, 0x00091000, "SQ", 16 * (levels - i) - 8);
        put_item(&b, 0xe000, 16 * (levels - i) - 16);
    }
    refused_built(&b, BK_E_LIMIT, "nested");
    free(b.bytes);
}

static void test_dicom__frames_and_bytes_must_agree(void **state)
{
    (void)state;
    builder b = {0};
    bk_dicom_info info;
    static const uint8_t px[64] = {0};
    begin_file(&b, SYNTAX_EXPLICIT);
    put_image(&b, (image_form){4, 4, 8, 8, 7, 0, "5", NULL});
    put_native(&b, "OB", px, 56);
    bk_dicom *file = open_built(&b, &info);
    assert_true(info.frames == 3 && warned(&info, "truncated"));
    bk_dicom_close(file);
    begin_file(&b, SYNTAX_EXPLICIT);
    put_image(&b, (image_form){4, 4, 8, 8, 7, 0, "2", NULL});
    put_native(&b, "OB", px, 64);
    file = open_built(&b, &info);
    assert_true(info.frames == 2 && warned(&info, "extra_bytes"));
    bk_dicom_close(file);
    free(b.bytes);
}

/* Cut at every twentieth, and around the edges: never a crash, and the frames that stay are right. */
static void cut_everywhere(const uint8_t *bytes, size_t n, size_t frame_bytes, int32_t frames, int32_t bits)
{
    int32_t last = -1;
    for (size_t i = 0; i <= 20; i++) {
        save_bytes(file_path, bytes, i * n / 20);
        bk_dicom *file;
        bk_err err = {0};
        const bk_status status = bk_dicom_open(file_path, &file, &err);
        if (status != BK_OK) {
            assert_int_equal(status, BK_E_DATA);
            assert_true(last <= 0);
            continue;
        }
        bk_dicom_info info;
        bk_dicom_describe(file, &info);
        assert_true(info.frames >= 1 && info.frames >= last && info.frames <= frames);
        assert_int_equal(warned(&info, "truncated"), info.frames < frames);
        last = info.frames;
        if (frame_bytes > 0 && i < 20) {
            const size_t left = i * n / 20, behind = frame_bytes * (size_t)frames;
            assert_int_equal(info.frames, (left - (n - behind)) / frame_bytes);
        }
        for (int32_t k = 1; k <= info.frames; k++) {
            if (bits > 0)
                assert_pattern(file, k, bits);
            else
                free(decode(file, k));
        }
        bk_dicom_close(file);
    }
    assert_int_equal(last, frames);
}

static void test_dicom__cut_files_keep_their_whole_frames(void **state)
{
    (void)state;
    size_t n;
    bk_dicom_out out = plain_run(32, 32, 6, 12);
    write_ok(&out);
    uint8_t *bytes = load(&n);
    cut_everywhere(bytes, n, 32 * 32 * 2, 6, 12);
    free(bytes);
    out = plain_run(64, 64, 6, 8);
    out.jpeg_ratio = 5;
    write_ok(&out);
    bytes = load(&n);
    cut_everywhere(bytes, n, 0, 6, 0);
    free(bytes);
}

static void test_dicom__cuts_say_where(void **state)
{
    (void)state;
    const bk_dicom_out out = plain_run(32, 32, 2, 8);
    write_ok(&out);
    size_t n;
    uint8_t *bytes = load(&n);
    save_bytes(file_path, bytes, 300);
    refused(file_path, BK_E_DATA, "inside its header");
    save_bytes(file_path, bytes, n - 1500);
    refused(file_path, BK_E_DATA, "inside its first frame");
    free(bytes);
}

/* One byte at a time changed throughout the header: any answer will do, but one of ours. */
static void test_dicom__any_changed_byte_is_survived(void **state)
{
    (void)state;
    bk_dicom_out out = plain_run(8, 8, 3, 8);
    for (int jpeg = 0; jpeg < 2; jpeg++) {
        out.jpeg_ratio = jpeg ? 2 : (double)NAN;
        write_ok(&out);
        size_t n;
        uint8_t *bytes = load(&n);
        const uint8_t masks[] = {0xff, 0x01, 0x80};
        for (size_t i = 0; i < n * 3; i += 2) {
            bytes[i / 3] ^= masks[i % 3];
            save_bytes(file_path, bytes, n);
            bk_dicom *file;
            bk_err err = {0};
            bk_status status = bk_dicom_open(file_path, &file, &err);
            if (status == BK_OK) {
                bk_dicom_info info;
                bk_dicom_describe(file, &info);
                const size_t room = (size_t)info.rows * (size_t)info.cols;
                uint16_t *px = calloc(room, sizeof *px);
                status = bk_dicom_frame(file, info.frames, px, room, &err);
                free(px);
            }
            assert_true(status == BK_OK || status == BK_E_DATA || status == BK_E_LIMIT);
            assert_int_equal(status != BK_OK, err.message[0] != '\0');
            bk_dicom_close(file);
            bytes[i / 3] ^= masks[i % 3];
        }
        free(bytes);
    }
}

static int make_folder(void **state)
{
    (void)state;
    setlocale(LC_ALL, "de_DE.UTF-8"); /* where it is installed: numbers must not mind */
    snprintf(folder, sizeof folder, "/tmp/bk-test-dicom-XXXXXX");
    if (!mkdtemp(folder))
        return -1;
    snprintf(file_path, sizeof file_path, "%s/a.dcm", folder);
    return 0;
}

static int remove_folder(void **state)
{
    (void)state;
    unlink(file_path);
    return rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dicom__pixels_come_back_at_every_depth),
        cmocka_unit_test(test_dicom__description_comes_back),
        cmocka_unit_test(test_dicom__absent_is_never_zero),
        cmocka_unit_test(test_dicom__log_lut_leads_to_intensity),
        cmocka_unit_test(test_dicom__same_call_same_bytes),
        cmocka_unit_test(test_dicom__jpeg_reaches_about_the_ratio),
        cmocka_unit_test(test_dicom__writing_is_all_or_nothing),
        cmocka_unit_test(test_dicom__senseless_descriptions_are_not_written),
        cmocka_unit_test(test_dicom__bits_around_the_stored_ones_are_dropped),
        cmocka_unit_test(test_dicom__signed_values_are_lifted),
        cmocka_unit_test(test_dicom__rescale_gives_modality_values),
        cmocka_unit_test(test_dicom__big_endian_words_of_bytes_are_unswapped),
        cmocka_unit_test(test_dicom__old_spellings_are_read_with_a_warning),
        cmocka_unit_test(test_dicom__dates_that_are_none_are_absent),
        cmocka_unit_test(test_dicom__malformed_numbers_are_absent_with_a_warning),
        cmocka_unit_test(test_dicom__frame_times_follow_the_pointer),
        cmocka_unit_test(test_dicom__enhanced_geometry_is_in_groups),
        cmocka_unit_test(test_dicom__shutter_and_flip_are_told),
        cmocka_unit_test(test_dicom__doubtful_attributes_warn),
        cmocka_unit_test(test_dicom__packed_lut_is_unpacked),
        cmocka_unit_test(test_dicom__fragments_of_odd_length),
        cmocka_unit_test(test_dicom__frames_in_several_fragments),
        cmocka_unit_test(test_dicom__a_cut_between_fragments_is_not_a_whole_frame),
        cmocka_unit_test(test_dicom__damaged_frames_are_refused_others_stay),
        cmocka_unit_test(test_dicom__jpeg_of_another_size_is_refused),
        cmocka_unit_test(test_dicom__rle_with_wild_offsets_is_refused),
        cmocka_unit_test(test_dicom__frame_numbers_and_room_are_checked),
        cmocka_unit_test(test_dicom__what_is_not_dicom_is_refused),
        cmocka_unit_test(test_dicom__impossible_images_are_refused),
        cmocka_unit_test(test_dicom__a_data_set_without_pixels_is_refused),
        cmocka_unit_test(test_dicom__deep_nesting_is_refused),
        cmocka_unit_test(test_dicom__frames_and_bytes_must_agree),
        cmocka_unit_test(test_dicom__cut_files_keep_their_whole_frames),
        cmocka_unit_test(test_dicom__cuts_say_where),
        cmocka_unit_test(test_dicom__any_changed_byte_is_survived),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
