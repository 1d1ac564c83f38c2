#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Digital angiograms with known truth, written apart from phantom/ (the generator in C).

It exists to catch what a generator and a fit can get wrong together, so it shares no code and no design
with phantom/: here the lumen is three tubes of varying radius around curved axes in space, a ray's path in
each tube is found by parabolic root refinement, and the union is the union of the three intervals.

Every seed draws anew: view angles, SID, SOD, pixel pitch, depth of the bifurcation (+-12 mm), contrast
density and how it drifts along the vessel, blur, scatter, photons, bit depth, background (soft tissue, ribs,
diaphragm edge), catheter, crossing vessels, lesions (Medina pattern, length, depth, shape, eccentric throat).

Method and where it comes from
  C-arm geometry    DICOM PS3.3 C.8.7.5 (angles) and C.8.31 (isocentre in the middle of the field)
  intensity         Beer-Lambert, I = I0 exp(-integral of mu); blur and scatter act on intensity, not on its log
  noise             Poisson photons, then a small Gaussian electronic part
  branching         D_p^k = D_d^k + D_s^k with k drawn between 2 and 3 (area preserving ... Murray)
  definitions       docs of `branchkeep measure`: branch point, core, ostium, MLD, reference, stenosis, angles

What it leaves out, on purpose: lumens that are not round (one view cannot see that), noise that is correlated
between pixels, vessels that cross the very throat of a lesion (see --cross-throat), motion.

Usage: independent_phantom.py --seeds 0-99 --out DIR [--size 512] [--bits 10] [--wire-share 0.08]
                              [--lesion-mm 4,14] [--png]
"""
import argparse
import json
import os
import sys
import time

import numpy as np
import pydicom
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.uid import ExplicitVRLittleEndian
from scipy import ndimage

STEP_MM = 0.02           # spacing of the samples along every axis
RUN_MM = 0.5             # the MLD is the smallest mean over this length
LIMBS = ("proximal", "distal", "side")
XA_STORAGE = "1.2.840.10008.5.1.4.1.1.12.1"
MIN_MLD_MM = 0.40
LESION_MM = (4.0, 14.0)    # shortest and longest lesion


# ---------------------------------------------------------------- geometry of the room
class View:
    """A C-arm position. Patient axes: x to the left, y to the back, z to the head, isocentre at 0, mm."""

    def __init__(self, primary_deg, secondary_deg, sid_mm, sod_mm, pitch_mm, size_px):
        self.primary_deg, self.secondary_deg = primary_deg, secondary_deg
        self.sid_mm, self.sod_mm, self.pitch_mm, self.size_px = sid_mm, sod_mm, pitch_mm, size_px
        a, b = np.radians(primary_deg), np.radians(secondary_deg)
        self.beam = np.array([np.sin(a) * np.cos(b), -np.cos(a) * np.cos(b), np.sin(b)])
        self.right = np.array([np.cos(a), np.sin(a), 0.0])
        self.up = np.array([-np.sin(a) * np.sin(b), np.cos(a) * np.sin(b), np.cos(b)])
        self.source = -sod_mm * self.beam
        self.centre_px = (size_px - 1) / 2.0

    def project(self, points):
        """Points (n,3) in mm -> (n,2) pixel x, y; (0,0) is the centre of the top-left pixel."""
        w = points - self.source
        k = self.sid_mm / (w @ self.beam) / self.pitch_mm
        return np.stack([self.centre_px + k * (w @ self.right), self.centre_px - k * (w @ self.up)], axis=-1)

    def rays(self, x_px, y_px):
        """Unit directions (n,3) of the rays from the source through pixel positions."""
        du = (np.asarray(x_px) - self.centre_px) * self.pitch_mm
        dv = -(np.asarray(y_px) - self.centre_px) * self.pitch_mm
        w = self.sid_mm * self.beam + du[:, None] * self.right + dv[:, None] * self.up
        return w / np.linalg.norm(w, axis=1, keepdims=True)

    def mm_per_px(self, points):
        """Size of a pixel at the depth of the points."""
        return self.pitch_mm * ((points - self.source) @ self.beam) / self.sid_mm

    def in_patient(self, right_mm, up_mm, depth_mm):
        """A vector given in the frame of this view, in patient axes."""
        return np.multiply.outer(right_mm, self.right) + np.multiply.outer(up_mm, self.up) + \
            np.multiply.outer(depth_mm, self.beam)


class Tube:
    """A round tube: axis (n,3) every STEP_MM, radius and attenuation per sample, ball-shaped ends."""

    def __init__(self, axis, radius, mu):
        leg = np.linalg.norm(np.diff(axis, axis=0), axis=1)
        s = np.concatenate([[0.0], np.cumsum(leg)])
        n = int(s[-1] / STEP_MM) + 1
        at = np.arange(n) * STEP_MM
        self.axis = np.stack([np.interp(at, s, axis[:, i]) for i in range(3)], axis=1)
        self.radius = np.interp(at, s, radius)
        self.mu = np.interp(at, s, mu)
        self.tangent = np.gradient(self.axis, axis=0)
        self.tangent /= np.linalg.norm(self.tangent, axis=1, keepdims=True)

    def foot(self, points, index):
        """Axis parameter (in samples, real) of the foot of each point, from a guess."""
        last = len(self.radius) - 1
        for _ in range(3):
            i = np.clip(np.rint(index).astype(np.int64), 0, last)
            index = i + np.einsum("ij,ij->i", points - self.axis[i], self.tangent[i]) / STEP_MM
            index = np.clip(index, 0, last)
        return index

    def at(self, table, index):
        """Linear interpolation of a per-sample table at real sample positions."""
        last = len(self.radius) - 1
        i = np.minimum(index.astype(np.int64), last - 1)
        f = index - i
        if table.ndim == 2:
            f = f[:, None]
        return table[i] * (1 - f) + table[i + 1] * f

    def reach(self):
        """How far the lumen goes from the axis, per sample."""
        return self.radius

    def outside(self, points, index):
        """Squared distance to the axis less the squared radius (negative inside), and the foot."""
        index = self.foot(points, index)
        away = points - self.at(self.axis, index)
        return np.einsum("ij,ij->i", away, away) - self.at(self.radius, index) ** 2, index

    def deepest(self, source, ray, index):
        """Where each ray is deepest in the tube, mm from the source, and the foot: nearest to the axis in a round one."""
        t_mid = np.einsum("ij,ij->i", self.at(self.axis, index) - source, ray)
        for _ in range(3):
            index = self.foot(source + t_mid[:, None] * ray, index)
            along = np.einsum("ij,ij->i", ray, self.at(self.tangent, index))
            gap = source + t_mid[:, None] * ray - self.at(self.axis, index)
            t_mid = t_mid - np.einsum("ij,ij->i", gap, ray - along[:, None] * self.at(self.tangent, index)) / \
                np.maximum(1 - along ** 2, 0.05)
        return t_mid, index


def ray_interval(tube, source, ray, index):
    """Where each ray enters and leaves the tube: (t_in, t_out, mu), t_in >= t_out for a miss. mm from the source.

    Along a ray the function `outside` is a parabola for a straight tube; three points refine its roots until
    taper, curvature and a throat are followed too.
    """
    t_mid, index = tube.deepest(source, ray, index)
    q_mid, index = tube.outside(source + t_mid[:, None] * ray, index)
    bend = np.maximum(1 - np.einsum("ij,ij->i", ray, tube.at(tube.tangent, index)) ** 2, 0.05)
    half_lo = half_hi = np.sqrt(np.maximum(-q_mid, 1e-9) / bend)
    mu = tube.at(tube.mu, index)
    for _ in range(3):
        q_lo, _ = tube.outside(source + (t_mid - half_lo)[:, None] * ray, index)
        q_hi, _ = tube.outside(source + (t_mid + half_hi)[:, None] * ray, index)
        # parabola through (-half_lo, q_lo), (0, q_mid), (half_hi, q_hi)
        a = (q_lo * half_hi + q_hi * half_lo - q_mid * (half_lo + half_hi)) / (
            half_lo * half_hi * (half_lo + half_hi))
        a = np.maximum(a, 0.05)
        b = (q_hi - q_mid) / half_hi - a * half_hi
        root = np.sqrt(np.maximum(b * b - 4 * a * q_mid, 0.0))
        half_hi, half_lo = np.maximum((-b + root) / (2 * a), 1e-5), np.maximum((b + root) / (2 * a), 1e-5)
    miss = q_mid >= 0
    return np.where(miss, 0.0, t_mid - half_lo), np.where(miss, 0.0, t_mid + half_hi), mu


def candidate_rays(tube, view, over):
    """Sub-pixels that the tube may darken: (flat index on the over-sampled grid, first guess of the foot)."""
    size = view.size_px
    px = view.project(tube.axis)
    cell = np.rint(px).astype(int)
    seen = ((cell >= 0) & (cell < size)).all(axis=1)
    if not seen.any():
        return np.zeros(0, np.int64), np.zeros(0)
    owner = np.zeros((size, size), np.int64)
    empty = np.ones((size, size), bool)
    owner[cell[seen, 1], cell[seen, 0]] = np.nonzero(seen)[0]
    empty[cell[seen, 1], cell[seen, 0]] = False
    far, nearest = ndimage.distance_transform_edt(empty, return_indices=True)
    guess = owner[nearest[0], nearest[1]]
    # the nearest sample may sit on the flank of a throat, so look at the largest radius near it
    wide = ndimage.maximum_filter1d(tube.reach(), int(3.0 / STEP_MM))
    rows, cols = np.nonzero(far < wide[guess] / view.mm_per_px(tube.axis[guess]) + 2.5)
    guess = guess[rows, cols]
    sub = np.arange(over)
    flat = ((rows[:, None, None] * over + sub[None, :, None]) * size * over
            + cols[:, None, None] * over + sub[None, None, :])
    return flat.reshape(-1), np.repeat(guess, over * over).astype(float)


def tube_intervals(tube, view, over):
    """Intervals of every candidate sub-pixel: flat, t_in, t_out, mu (misses left out)."""
    flat, guess = candidate_rays(tube, view, over)
    if flat.size == 0:
        return flat, guess, guess, guess
    width = view.size_px * over
    x = (flat % width + 0.5) / over - 0.5
    y = (flat // width + 0.5) / over - 0.5
    t_in, t_out, mu = ray_interval(tube, view.source, view.rays(x, y), guess)
    hit = t_out > t_in
    return flat[hit], t_in[hit], t_out[hit], mu[hit]


def attenuation_of_union(tubes, view, over):
    """mu times the length of each ray inside at least one of the tubes; over-sampled image, float32."""
    width = view.size_px * over
    flat, t_in, t_out, mu = (np.concatenate(p) for p in zip(*(tube_intervals(t, view, over) for t in tubes)))
    order = np.lexsort((t_in, flat))
    flat, t_in, t_out, mu = flat[order], t_in[order], t_out[order], mu[order]
    # a sweep along each ray: an interval counts from where the ones before it on the same ray have ended
    ended = np.full(flat.size, -np.inf)
    for back in range(1, len(tubes)):
        same = np.zeros(flat.size, bool)
        same[back:] = flat[back:] == flat[:-back]
        earlier = np.full(flat.size, -np.inf)
        earlier[back:] = t_out[:-back]
        ended = np.where(same, np.maximum(ended, earlier), ended)
    length = np.maximum(t_out - np.maximum(t_in, ended), 0.0)
    return np.bincount(flat, weights=length * mu, minlength=width * width).astype(np.float32).reshape(width, width)


# ---------------------------------------------------------------- the bifurcation
def curve(view, heading, tilt, length_mm, rng, bend_per_mm):
    """An axis from 0 in the frame of the view: heading in the image (rad, counter-clockwise), tilt out of it."""
    s = np.arange(0, length_mm, STEP_MM)
    wave = 2 * np.pi / rng.uniform(25, 50)
    phase = rng.uniform(0, 2 * np.pi)
    turn = rng.uniform(-1, 1) * bend_per_mm
    swing = rng.uniform(-1, 1) * bend_per_mm
    phi = heading + turn * s + swing / wave * (np.sin(wave * s + phase) - np.sin(phase))
    psi = tilt + rng.uniform(-1, 1) * 0.3 * bend_per_mm * s
    step = view.in_patient(np.cos(psi) * np.cos(phi), np.cos(psi) * np.sin(phi), np.sin(psi)) * STEP_MM
    return s, np.concatenate([np.zeros((1, 3)), np.cumsum(step, axis=0)[:-1]])


def lesion_shape(s, start, length, plateau):
    """0 outside, 1 in the throat; raised cosine shoulders around an optional flat throat."""
    shoulder = length * (1 - plateau) / 2
    up = np.clip((s - start) / shoulder, 0, 1)
    down = np.clip((start + length - s) / shoulder, 0, 1)
    return 0.25 * (1 - np.cos(np.pi * up)) * (1 - np.cos(np.pi * down))


def draw_diameters(rng):
    """Healthy diameters at the branch point: proximal, distal, side, mm."""
    k = rng.uniform(2.0, 3.0)
    proximal = rng.uniform(2.2, 4.6)
    share = rng.uniform(0.50, 0.80)                  # of D^k that goes to the distal main vessel
    return proximal, proximal * share ** (1 / k), max(proximal * (1 - share) ** (1 / k), 1.2)


def draw_lesion(rng, diseased, reference_mm, core_mm, ostial_share, lesion_mm, throat_mm=None):
    """None, or the numbers of a lesion; positions in mm from the branch point along the axis."""
    if not diseased and rng.random() < 0.5:
        return None
    most = 1 - MIN_MLD_MM / reference_mm
    severity = rng.uniform(0.50, 0.88) if diseased else rng.uniform(0.12, 0.46)
    severity = min(severity, most)
    if throat_mm and diseased:
        severity = 1 - throat_mm / reference_mm
    length = np.exp(rng.uniform(*np.log(lesion_mm)))
    ostial = rng.random() < ostial_share
    start = core_mm * rng.uniform(0.4, 1.0) if ostial else core_mm + rng.uniform(1.0, 6.0)
    plateau = rng.choice([0.0, rng.uniform(0.1, 0.4)])
    shift = 0.0
    if rng.random() < 0.5:                           # eccentric: the throat leaves the axis
        room = reference_mm / 2 * severity * rng.uniform(0.3, 0.95)
        shoulder = length * (1 - plateau)
        shift = min(room, shoulder ** 2 / (4 * np.pi ** 2) / (reference_mm / 2) * 1.2)   # no fold in the tube
    return {"start": start, "length": length, "plateau": float(plateau), "severity": severity, "shift": shift,
            "ostial": bool(ostial), "shift_rad": rng.uniform(0, 2 * np.pi)}


def draw_limb(rng, view, name, heading, reference_mm, core_mm, lesion, mu0, draw_axis=curve):
    """One limb around the origin: its tube, its healthy radius per sample and how far along the click is."""
    click_mm = rng.uniform(13.0, 26.0)
    if lesion:
        click_mm = max(click_mm, lesion["start"] + lesion["length"] + rng.uniform(2.5, 6.0))
    tilt = np.radians(rng.uniform(-20, 20))
    beyond = rng.uniform(6, 14) if name == "proximal" else rng.uniform(25, 60)
    s, axis = draw_axis(view, heading, tilt, click_mm + beyond, rng, 0.022)
    sign = 1.0 if name == "proximal" else -1.0
    healthy = reference_mm / 2 + sign * rng.uniform(0.0, 0.010) / 2 * s
    healthy *= np.where(s > click_mm + 5, np.exp(-np.maximum(s - click_mm - 5, 0) / 60), 1.0)
    radius = healthy.copy()
    if name != "proximal":                           # a short funnel into the core, as vessels have
        radius += 0.10 * reference_mm / 2 * np.clip(1 - s / core_mm, 0, 1) ** 2
    mu = mu0 * (1 + rng.uniform(-0.10, 0.10) * (1 - np.exp(-s / 12.0))
                + rng.uniform(0, 0.04) * np.sin(2 * np.pi * s / rng.uniform(18, 45)))
    if lesion:
        shape = lesion_shape(s, lesion["start"], lesion["length"], lesion["plateau"])
        radius = radius * (1 - lesion["severity"] * shape)
        tangent = np.gradient(axis, axis=0)
        tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
        first = np.cross(tangent, view.beam)
        first /= np.linalg.norm(first, axis=1, keepdims=True)
        second = np.cross(tangent, first)
        axis = axis + lesion["shift"] * shape[:, None] * (
            np.cos(lesion["shift_rad"]) * first + np.sin(lesion["shift_rad"]) * second)
        axis = axis - axis[0]
    tube = Tube(axis, radius, mu)
    keep = np.interp(np.linspace(0, 1, len(tube.radius)), np.linspace(0, 1, len(healthy)), healthy)
    return tube, keep, click_mm


def draw_bifurcation(rng, view, ostial_share, lesion_mm=LESION_MM, throat_mm=None):
    """Three limbs that leave the branch point and do not meet again in the image. Everything in patient mm."""
    proximal_mm, distal_mm, side_mm = draw_diameters(rng)
    pattern = rng.integers(0, 2, 3)
    mu0 = rng.uniform(0.10, 0.30)
    core_mm = 0.60 * proximal_mm
    main = rng.uniform(0, 2 * np.pi)
    opening = np.radians(rng.uniform(38, 105)) * rng.choice([-1, 1])
    headings = {"distal": main, "side": main + opening,
                "proximal": main + np.pi + np.sign(opening) * np.radians(rng.uniform(-10, 35))}
    sizes = {"proximal": proximal_mm, "distal": distal_mm, "side": side_mm}
    where = view.in_patient(rng.uniform(-4, 4), rng.uniform(-4, 4), rng.uniform(-12, 12))
    limbs = {}
    for name, diseased in zip(LIMBS, pattern):
        lesion = draw_lesion(rng, diseased, sizes[name], core_mm, ostial_share, lesion_mm, throat_mm)
        tube, healthy, click_mm = draw_limb(rng, view, name, headings[name], sizes[name], core_mm, lesion, mu0)
        tube.axis = tube.axis + where
        limbs[name] = {"tube": tube, "healthy": healthy, "click_mm": click_mm, "lesion": lesion}
    return limbs, where, mu0


def draw_occlusion(seed, limbs):
    """Close one daughter for good: where its lumen stops, how, and where it fills again. Changes limbs; own random numbers.

    The stump ends blunt (a ball) or as a cone; one in four stops within 2 mm of the core. Half fill again by collaterals,
    with 40-90 % of the contrast, when that place lies before the click.
    """
    rng = np.random.default_rng([77042, seed])
    name = str(rng.choice(["distal", "side"]))
    limb = limbs[name]
    tube, click_mm = limb["tube"], limb["click_mm"]
    core_mm = 0.6 * 2 * limbs["proximal"]["tube"].radius[0]
    early = rng.random() < 0.25
    stop_mm = core_mm + (rng.uniform(0, 2) if early else rng.uniform(2, max(click_mm - core_mm - 5, 2.5)))
    taper_mm = rng.choice([0.0, rng.uniform(1.5, 5.0)])
    gap_mm, refills = rng.uniform(3, 15), rng.random() < 0.5
    again_mm = stop_mm + gap_mm
    if again_mm > click_mm - 2:
        refills = False
    s = np.arange(len(tube.radius)) * STEP_MM
    before = s <= stop_mm
    cone = np.clip((stop_mm - s[before]) / taper_mm, 0.02, 1) if taper_mm else np.ones(before.sum())
    parts = [Tube(tube.axis[before], tube.radius[before] * cone, tube.mu[before])]
    if refills:
        behind = s >= again_mm
        weak, grow = rng.uniform(0.4, 0.9), np.clip((s[behind] - again_mm) / 2 + 0.3, 0, 1)
        parts.append(Tube(tube.axis[behind], tube.radius[behind] * grow, tube.mu[behind] * weak))
    limb["parts"] = parts
    return {"limb": name, "stop_axis_mm": float(stop_mm), "taper_mm": float(taper_mm),
            "refill_axis_mm": float(again_mm) if refills else None, "early": bool(early)}


def occlusion_truth(truth, limbs, view, facts):
    """The places of an occlusion in projected mm, as `measure` counts them; MLD 0."""
    t = projected_limb(limbs[facts["limb"]], view, truth["mm_per_px_branch"])
    own = np.arange(len(t["map"])) * STEP_MM
    segment = truth["segments"][facts["limb"]]
    ball_mm = 0 if facts["taper_mm"] else float(np.interp(facts["stop_axis_mm"], own, limbs[facts["limb"]]["tube"].radius))
    facts["stop_mm"] = float(np.interp(facts["stop_axis_mm"] + ball_mm, own, t["map"]))    # a blunt stump ends in a ball
    again = facts["refill_axis_mm"]
    facts["refill_mm"] = None if again is None else float(np.interp(again, own, t["map"]))
    segment.update(occluded=True, mld_mm=0.0, mld_position_mm=facts["stop_mm"], stenosis_pct=100.0)


def acceptable(limbs, view):
    """Clicks well inside the image; from 7 mm to beyond the clicks no two limbs overlap in the image."""
    tracks = {}
    for name, limb in limbs.items():
        px = view.project(limb["tube"].axis)
        upto = int(limb["click_mm"] / STEP_MM)
        if px[:upto].min() < 18 or px[:upto].max() > view.size_px - 19:
            return False
        watched = slice(int(7.0 / STEP_MM), upto + int(5.0 / STEP_MM), 10)
        tracks[name] = px[watched], limb["tube"].radius[watched]
    for a, b in (("distal", "side"), ("proximal", "side"), ("proximal", "distal")):
        gap = np.linalg.norm(tracks[a][0][:, None] - tracks[b][0][None], axis=2)
        need = (tracks[a][1][:, None] + tracks[b][1][None] + 0.8) / view.mm_per_px(limbs[a]["tube"].axis[:1])[0]
        if (gap < need).any():
            return False
    return True


# ---------------------------------------------------------------- what else is in the picture
def throats_px(limbs, view):
    return [view.project(limb["tube"].axis[[np.argmin(limb["tube"].radius[: int(limb["click_mm"] / STEP_MM)])]])[0]
            for limb in limbs.values() if limb["lesion"]]


def draw_crossing(rng, limbs, view, where, over_throat):
    """A vessel at another depth that crosses one limb, clear of throats and of the branch point; or None."""
    limb = limbs[rng.choice(LIMBS)]["tube"]
    iso_px = 1.0 / view.mm_per_px(where[None])[0]
    throats = throats_px(limbs, view)
    for _ in range(30):
        at = limb.axis[rng.integers(int(6 / STEP_MM), min(int(24 / STEP_MM), len(limb.radius) - 1))]
        s, axis = curve(view, rng.uniform(0, 2 * np.pi), np.radians(rng.uniform(-15, 15)), 70.0, rng, 0.02)
        axis = axis - axis[len(axis) // 2] + at + view.beam * rng.choice([-1, 1]) * rng.uniform(8, 25)
        radius = rng.uniform(0.4, 1.1)
        px = view.project(axis)
        tangent = (px[-1] - px[0]) / np.linalg.norm(px[-1] - px[0])
        k = int(np.argmin(np.linalg.norm(view.project(limb.axis) - view.project(at[None]), axis=1)))
        own = view.project(limb.axis[[max(k - 25, 0), min(k + 25, len(limb.radius) - 1)]])
        own = (own[1] - own[0]) / np.linalg.norm(own[1] - own[0])
        near = [np.linalg.norm(px - t, axis=1).min() for t in throats]
        clear = all(n > (3.0 + radius) * iso_px for n in near)
        if over_throat and throats:
            clear = min(near) < iso_px
        steep = abs(float(tangent @ own)) < 0.77       # at 40 degrees or more
        away = np.linalg.norm(px - view.project(where[None])[0], axis=1).min() > 5.0 * iso_px
        if clear and steep and away:
            return axis, np.full(len(s), radius), view.project(at[None])[0]
    return None


def draw_catheter(rng, limbs, view, mu0):
    """A guiding catheter that ends in the proximal limb well before its click, seen filled with contrast."""
    french = int(rng.choice([5, 6, 7]))
    outer = french / 3.0 / 2
    tube = limbs["proximal"]["tube"]
    tip, out = tube.axis[-1], tube.axis[-1] - tube.axis[-50]
    heading = np.arctan2(out @ view.up, out @ view.right)
    s, axis = curve(view, heading + rng.uniform(-0.3, 0.3), 0.0, 120.0, rng, 0.012)
    axis = axis + tip
    flat = np.ones(len(s))
    shaft = Tube(axis, outer * flat, 0.07 * flat)
    bore = Tube(axis, (outer - 0.18) * flat, (mu0 - 0.07) * flat)
    px = view.project(axis)
    inside = ((px > 4) & (px < view.size_px - 5)).all(axis=1)
    seen = np.nonzero(inside)[0]
    facts = {"french": french, "filled": "yes", "from_px": None, "to_px": None, "mm_per_px": None}
    if seen.size * STEP_MM > 8:
        a, b = seen[int(2 / STEP_MM)], seen[-1]
        b = min(b, a + int(15 / STEP_MM))
        facts.update(from_px=px[a].tolist(), to_px=px[b].tolist(),
                     mm_per_px=float(view.mm_per_px(axis[[(a + b) // 2]])[0]))
    return shaft, bore, facts


def draw_wire(rng, limbs):
    """A guide wire of 0.36 mm from the proximal limb into one daughter, displacing contrast."""
    limb = rng.choice(["distal", "side"])
    parts = []
    for name in ("proximal", limb):
        tube = limbs[name]["tube"]
        lean = np.cross(tube.tangent, rng.normal(size=3))
        lean /= np.linalg.norm(lean, axis=1, keepdims=True)
        room = np.maximum(ndimage.gaussian_filter1d(tube.radius, 2.0 / STEP_MM) - 0.3, 0)
        room = np.minimum(room, np.maximum(tube.radius - 0.2, 0)) * 0.6
        room *= 1 - np.exp(-np.arange(len(room)) * STEP_MM / 2.0)
        axis = tube.axis + lean * room[:, None]
        flat = np.ones(len(axis))
        parts.append(Tube(axis, 0.18 * flat, rng.uniform(0.6, 1.4) * flat - float(tube.mu.mean())))
    return parts, limb


def background(rng, view):
    """Log attenuation of everything that is not contrast, pixel grid, float; and what was put in."""
    size, iso = view.size_px, view.pitch_mm * view.sod_mm / view.sid_mm
    y, x = (np.mgrid[0:size, 0:size] - view.centre_px) * iso
    coarse = ndimage.zoom(rng.normal(size=(8, 8)), size / 8, order=3, mode="nearest", grid_mode=True)
    log = rng.uniform(0.04, 0.12) * coarse + rng.uniform(-0.003, 0.003) * x + rng.uniform(-0.003, 0.003) * y
    ribs = int(rng.integers(0, 5))
    lean, gap, first = rng.uniform(-0.5, 0.5), rng.uniform(17, 27), rng.uniform(-30, -5)
    for i in range(ribs):
        middle = first + i * gap + lean * x + rng.uniform(0.002, 0.007) * x ** 2
        half, soft = rng.uniform(3.5, 6.5), rng.uniform(0.5, 1.3)
        edge = 0.5 * (np.tanh((y - middle + half) / soft) - np.tanh((y - middle - half) / soft))
        log += rng.uniform(0.03, 0.11) * edge * (1 - 0.35 * np.exp(-((y - middle) / half) ** 2))
    diaphragm = bool(rng.random() < 0.4)
    if diaphragm:
        dome = rng.uniform(-15, 30) + 0.008 * (x - rng.uniform(-30, 30)) ** 2
        log += rng.uniform(0.15, 0.5) * 0.5 * (1 + np.tanh((y - dome) / rng.uniform(0.7, 2.0)))
    texture = rng.uniform(0, 0.004)
    grain = ndimage.gaussian_filter(rng.normal(size=(size, size)), rng.uniform(1.5, 4.0) / iso)
    return log + texture * grain / grain.std(), {"ribs": ribs, "diaphragm": diaphragm, "texture": texture}


# ---------------------------------------------------------------- from attenuation to grey values
def expose(rng, view, over, vessels, log_background, look):
    """Photon counts per pixel -> stored values. `vessels` is over-sampled attenuation."""
    size = view.size_px
    log_background = log_background - np.median(log_background)
    fine = ndimage.zoom(log_background.astype(np.float32), over, order=1, mode="nearest", grid_mode=True)
    light = np.exp(-(fine + vessels), dtype=np.float32)
    light = ndimage.gaussian_filter(light, look["psf_fwhm_mm"] / 2.354820 / view.pitch_mm * over, mode="nearest",
                                    truncate=5)
    primary = light.reshape(size, over, size, over).mean(axis=(1, 3), dtype=np.float64)
    small = primary.reshape(size // 8, 8, size // 8, 8).mean(axis=(1, 3))
    spread = ndimage.gaussian_filter(small, look["scatter_mm"] / view.pitch_mm / 8, mode="nearest")
    spread = ndimage.zoom(spread, 8, order=1, mode="nearest", grid_mode=True)
    f = look["scatter"]
    mean = look["photons"] * ((1 - f) * primary + f * spread)
    seen = rng.poisson(mean) + rng.normal(scale=look["electronic"], size=mean.shape)
    full = 2 ** look["bits"] - 1
    gain = full * look["exposure"] / np.percentile(seen, 99.8)
    stored = np.clip(np.rint(seen * gain), 0, full)
    return stored.astype(np.uint8 if look["bits"] == 8 else np.uint16), gain


def write_dicom(path, view, stored, look, seed):
    """An XA object with every geometry tag a cath lab writes; explicit little endian; linear intensity."""
    meta = FileMetaDataset()
    meta.MediaStorageSOPClassUID = XA_STORAGE
    meta.MediaStorageSOPInstanceUID = pydicom.uid.generate_uid(entropy_srcs=["independent phantom", str(seed)])
    meta.TransferSyntaxUID = ExplicitVRLittleEndian
    d = Dataset()
    d.file_meta, d.is_little_endian, d.is_implicit_VR = meta, True, False
    d.SOPClassUID, d.SOPInstanceUID = XA_STORAGE, meta.MediaStorageSOPInstanceUID
    for word, part in (("StudyInstanceUID", "study"), ("SeriesInstanceUID", "series")):
        setattr(d, word, pydicom.uid.generate_uid(entropy_srcs=["independent phantom", part, str(seed)]))
    d.ImageType = ["ORIGINAL", "PRIMARY", "SINGLE PLANE"]
    d.Modality, d.PatientID, d.PatientName = "XA", "PHANTOM", "PHANTOM"
    d.Rows, d.Columns, d.NumberOfFrames = view.size_px, view.size_px, 1
    d.SamplesPerPixel, d.PhotometricInterpretation, d.PixelRepresentation = 1, "MONOCHROME2", 0
    d.BitsAllocated = 8 if look["bits"] == 8 else 16
    d.BitsStored, d.HighBit = look["bits"], look["bits"] - 1
    d.PixelIntensityRelationship, d.PixelIntensityRelationshipSign = "LIN", 1
    d.PositionerType, d.PositionerMotion = "CARM", "STATIC"
    d.PositionerPrimaryAngle, d.PositionerSecondaryAngle = view.primary_deg, view.secondary_deg
    d.DistanceSourceToDetector, d.DistanceSourceToPatient = view.sid_mm, view.sod_mm
    d.EstimatedRadiographicMagnificationFactor = round(view.sid_mm / view.sod_mm, 6)
    d.ImagerPixelSpacing = [view.pitch_mm, view.pitch_mm]
    d.FieldOfViewShape = "RECTANGLE"
    d.FieldOfViewDimensions = [int(round(view.pitch_mm * view.size_px))] * 2
    d.FieldOfViewOrigin, d.FieldOfViewRotation, d.FieldOfViewHorizontalFlip = [0.0, 0.0], 0, "NO"
    d.TableHeight, d.CineRate, d.FrameTime = 0, 15, round(1000 / 15, 3)
    d.KVP, d.LossyImageCompression = look["kvp"], "00"
    d.PixelData = stored.tobytes()
    pydicom.dcmwrite(path, d, write_like_original=False)


# ---------------------------------------------------------------- truth, from the geometry alone
def projected_limb(limb, view, branch_mm_per_px):
    """Everything about a limb in the image, resampled every 0.05 mm of projected arc length (mm at the branch)."""
    tube = limb["tube"]
    px = view.project(tube.axis)
    s = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(px, axis=0), axis=1))]) * branch_mm_per_px
    at = np.arange(0, s[-1], 0.05)

    def take(v):
        return np.interp(at, s, v)
    return {"s": at, "x": take(px[:, 0]), "y": take(px[:, 1]), "d": take(2 * tube.radius),
            "ref": take(2 * limb["healthy"]), "scale": take(view.mm_per_px(tube.axis)),
            "click": float(np.interp(limb["click_mm"], np.arange(len(s)) * STEP_MM, s)), "map": s}


def core_circle(tracks, branch_mm_per_px):
    """Largest circle inside the projected lumen around the branch point: (radius, centre relative to it), mm."""
    reach = tracks["proximal"]["d"][0] * 1.6
    grid = np.arange(-reach, reach, 0.04)
    gx, gy = np.meshgrid(grid, grid)
    inside = np.zeros(gx.shape, bool)
    for t in tracks.values():
        near = t["s"] < 2.5 * reach
        x = (t["x"][near] - t["x"][0]) * branch_mm_per_px
        y = (t["y"][near] - t["y"][0]) * branch_mm_per_px
        for cx, cy, r in zip(x, y, t["d"][near] / 2):
            inside |= (gx - cx) ** 2 + (gy - cy) ** 2 <= r * r
    room = ndimage.distance_transform_edt(inside) * 0.04
    room[np.hypot(gx, gy) > 0.5 * tracks["proximal"]["d"][0]] = 0
    best = np.unravel_index(np.argmax(room), room.shape)
    return float(room[best]), np.array([gx[best], gy[best]])


def limb_truth(t, limb, core_mm, centre, branch_mm_per_px):
    """MLD, reference there, stenosis, lesion and profile of one limb."""
    x = (t["x"] - t["x"][0]) * branch_mm_per_px - centre[0]
    y = (t["y"] - t["y"][0]) * branch_mm_per_px - centre[1]
    ostium = t["s"][int(np.argmax(np.hypot(x, y) > core_mm))]
    mean = ndimage.uniform_filter1d(t["d"], int(round(RUN_MM / 0.05)) + 1, mode="nearest")
    allowed = (t["s"] >= ostium) & (t["s"] <= t["click"])
    k = int(np.argmin(np.where(allowed, mean, np.inf)))
    narrow = (t["d"] < 0.9 * t["ref"]) & allowed
    lesion = limb["lesion"]
    ends = None
    if lesion:
        own = np.arange(len(t["map"])) * STEP_MM
        ends = [float(np.interp(e, own, t["map"])) for e in
                (lesion["start"], lesion["start"] + lesion["length"])]
    every = slice(0, int(np.searchsorted(t["s"], t["click"] + 3)), 4)
    return {
        "mld_mm": float(mean[k]), "mld_position_mm": float(t["s"][k]), "reference_mm": float(t["ref"][k]),
        "stenosis_pct": float(100 * (1 - mean[k] / t["ref"][k])), "ostium_mm": float(ostium),
        "ostial_mm": float(np.interp(ostium, t["s"], t["d"])), "click_mm": t["click"], "lesion": ends,
        "lesion_detail": None if not lesion else {
            "axis_length_mm": lesion["length"], "eccentric_mm": lesion["shift"], "ostial": bool(
                lesion["ostial"] or ends[0] < ostium + 0.5), "throat_flat_share": lesion["plateau"],
            "below_90_pct_mm": [float(t["s"][narrow][0]), float(t["s"][narrow][-1])] if narrow.any() else None},
        "profile": {"position_mm": np.round(t["s"][every], 3).tolist(), "x_px": np.round(t["x"][every], 3).tolist(),
                    "y_px": np.round(t["y"][every], 3).tolist(), "diameter_mm": np.round(t["d"][every], 4).tolist(),
                    "reference_mm": np.round(t["ref"][every], 4).tolist(),
                    "mm_per_px": np.round(t["scale"][every], 6).tolist()}}


def angle_deg(tracks, a, b):
    """Between the chords from the branch point to 8 mm along the two projected axes."""
    chord = []
    for t in (tracks[a], tracks[b]):
        chord.append(np.array([np.interp(8.0, t["s"], t["x"]) - t["x"][0], np.interp(8.0, t["s"], t["y"]) - t["y"][0]]))
    cosine = chord[0] @ chord[1] / np.linalg.norm(chord[0]) / np.linalg.norm(chord[1])
    return float(np.degrees(np.arccos(np.clip(cosine, -1, 1))))


def truth_of(limbs, view, where, rng):
    """The answer key: everything `measure` is asked for, from the geometry."""
    scale = float(view.mm_per_px(where[None])[0])
    tracks = {n: projected_limb(limb, view, scale) for n, limb in limbs.items()}
    core_mm, centre = core_circle(tracks, scale)
    segments = {n: limb_truth(tracks[n], limbs[n], core_mm, centre, scale) for n in LIMBS}
    clicks = {}
    for n, t in tracks.items():
        at = np.array([np.interp(t["click"], t["s"], t["x"]), np.interp(t["click"], t["s"], t["y"])])
        clicks[n] = np.round(at + rng.uniform(-1, 1, 2), 2).tolist()
    digits = [int(segments[n]["stenosis_pct"] >= 50) for n in LIMBS]
    return {
        "branch_point_px": [float(tracks["distal"]["x"][0]), float(tracks["distal"]["y"][0])],
        "branch_point_mm": where.tolist(), "clicks_px": clicks, "segments": segments,
        "core": {"diameter_mm": 2 * core_mm, "centre_px": [
            float(tracks["distal"]["x"][0] + centre[0] / scale), float(tracks["distal"]["y"][0] + centre[1] / scale)]},
        "angles": {"distal_side_deg": angle_deg(tracks, "distal", "side"),
                   "proximal_side_deg": angle_deg(tracks, "proximal", "side"),
                   "proximal_distal_deg": angle_deg(tracks, "proximal", "distal")},
        "medina": ",".join(map(str, digits)),
        "medina_margin_pct": float(min(abs(segments[n]["stenosis_pct"] - 50) for n in LIMBS)),
        "mm_per_px_branch": scale, "mm_per_px_isocentre": view.pitch_mm * view.sod_mm / view.sid_mm}


# ---------------------------------------------------------------- one phantom
def draw_view(rng, size):
    """Pitches of 512 x 512 cine at the smaller fields of view; larger matrices see the same field finer."""
    sid = round(float(rng.uniform(950, 1200)), 1)
    sod = round(float(rng.uniform(700, min(800, sid - 220))), 1)
    pitch = round(float(rng.uniform(0.17, 0.32)) * 512 / size, 5)
    return View(round(float(rng.uniform(-55, 55)), 1), round(float(rng.uniform(-38, 40)), 1), sid, sod, pitch, size)


def draw_look(rng, bits, pitch_mm):
    """Blur of 0.22-0.42 mm FWHM at the detector, but never finer than 1.1 of the stored pixels."""
    return {"psf_fwhm_mm": float(max(rng.uniform(0.22, 0.42), 1.1 * pitch_mm)), "scatter": float(rng.uniform(0.05, 0.30)),
            "scatter_mm": float(rng.uniform(12, 30)), "photons": float(np.exp(rng.uniform(np.log(800), np.log(5000)))),
            "electronic": float(rng.uniform(1, 5)), "exposure": float(rng.uniform(0.75, 0.97)),
            "kvp": int(rng.integers(66, 95)), "bits": int(bits or rng.choice([8, 10, 12], p=[0.15, 0.7, 0.15]))}


def make(seed, options):
    """Draw, expose and write one phantom. Returns its truth."""
    rng = np.random.default_rng([77041, seed])
    over = 4 if options.size <= 512 else 2
    view = draw_view(rng, options.size)
    look = draw_look(rng, options.bits, view.pitch_mm)
    for _ in range(400):
        limbs, where, mu0 = draw_bifurcation(rng, view, options.ostial_share, options.lesion_mm, options.throat)
        if acceptable(limbs, view):
            break
    else:
        raise RuntimeError(f"seed {seed}: no bifurcation fits this view")
    closed = draw_occlusion(seed, limbs) if options.occlude else None
    dark = attenuation_of_union([part for limb in limbs.values() for part in limb.get("parts", [limb["tube"]])], view, over)
    extra, facts = [], {"crossings_px": [], "catheter": None, "wire_in_limb": []}
    for _ in range(int(rng.choice([0, 1, 2], p=[0.5, 0.35, 0.15]))):
        crossing = draw_crossing(rng, limbs, view, where, options.cross_throat)
        if crossing:
            axis, radius, at = crossing
            extra.append(Tube(axis, radius, np.full(len(radius), mu0 * rng.uniform(0.6, 1.0))))
            facts["crossings_px"].append(np.round(at, 1).tolist())
    if rng.random() < 0.6:
        shaft, bore, facts["catheter"] = draw_catheter(rng, limbs, view, mu0)
        extra += [shaft, bore]
    if rng.random() < options.wire_share:
        wire, limb = draw_wire(rng, limbs)
        extra += wire
        facts["wire_in_limb"] = ["proximal", limb]
    for tube in extra:
        dark += attenuation_of_union([tube], view, over)
    log_background, put_in = background(rng, view)
    stored, gain = expose(rng, view, over, dark, log_background, look)
    truth = {"schema": "branchkeep.independent-truth/1", "seed": seed, "rows": view.size_px, "columns": view.size_px,
             "geometry": {"primary_deg": view.primary_deg, "secondary_deg": view.secondary_deg, "sid_mm": view.sid_mm,
                          "sod_mm": view.sod_mm, "imager_spacing_mm": [view.pitch_mm] * 2}}
    truth.update(truth_of(limbs, view, where, rng))
    if closed:
        occlusion_truth(truth, limbs, view, closed)
        truth["occlusion"] = closed
    truth.update(look=dict(look, contrast_per_mm=mu0, psf_sigma_px=look["psf_fwhm_mm"] / 2.354820 / view.pitch_mm,
                           grey_per_photon=gain), scene=dict(facts, **put_in))
    name = os.path.join(options.out, f"seed{seed:04d}")
    write_dicom(name + ".dcm", view, stored, look, seed)
    with open(name + ".json", "w", encoding="ascii") as f:
        json.dump(truth, f)
    if options.png:
        write_png(name + ".png", stored, truth)
    return truth


def write_png(path, stored, truth):
    """Log-scaled picture for the eye, with and without the true lumen drawn in."""
    import matplotlib
    matplotlib.use("Agg")
    import matplotlib.pyplot as plt
    grey = np.log(np.maximum(stored.astype(float), 1))
    lo, hi = np.percentile(grey, [0.3, 99.7])
    figure, panes = plt.subplots(1, 2, figsize=(16, 8))
    for pane in panes:
        pane.imshow(grey, cmap="gray", vmin=lo, vmax=hi, interpolation="nearest")
        pane.axis("off")
    for name, colour in zip(LIMBS, ("tab:orange", "tab:cyan", "tab:pink")):
        p = {k: np.array(v) for k, v in truth["segments"][name]["profile"].items()}
        slope = np.stack([np.gradient(p["x_px"]), np.gradient(p["y_px"])])
        slope /= np.linalg.norm(slope, axis=0)
        half = p["diameter_mm"] / 2 / p["mm_per_px"]
        for side in (-1, 1):
            panes[1].plot(p["x_px"] - side * slope[1] * half, p["y_px"] + side * slope[0] * half, color=colour, lw=0.8)
        panes[1].plot(*truth["clicks_px"][name], "+", color=colour)
    panes[0].set_title("seed {seed}  Medina {medina}".format(**truth))
    panes[1].set_title("  ".join(f"{n} {truth['segments'][n]['mld_mm']:.2f}/{truth['segments'][n]['reference_mm']:.2f}"
                                 for n in LIMBS))
    figure.tight_layout()
    figure.savefig(path, dpi=70)
    plt.close(figure)


def seeds(text):
    first, _, last = text.partition("-")
    return range(int(first), int(last or first) + 1)


def lengths(text):
    low, high = (float(v) for v in text.split(","))
    if not 1.0 <= low <= high <= 20.0:
        raise argparse.ArgumentTypeError("1 to 20 mm, the shorter first, was expected")
    return low, high


def main():
    p = argparse.ArgumentParser(description="Digital angiograms with known truth, independent of phantom/.")
    p.add_argument("--seeds", type=seeds, required=True, help="one seed, or FIRST-LAST")
    p.add_argument("--out", required=True, help="folder for seedNNNN.dcm and seedNNNN.json")
    p.add_argument("--size", type=int, default=512, choices=[512, 1024], help="rows and columns")
    p.add_argument("--bits", type=int, choices=[8, 10, 12], help="bits stored; drawn (mostly 10) when not given")
    p.add_argument("--wire-share", type=float, default=0.08, help="share of phantoms with a wire in the lumen")
    p.add_argument("--ostial-share", type=float, default=0.15, help="share of lesions that begin in the core")
    p.add_argument("--lesion-mm", type=lengths, default=LESION_MM, metavar="LO,HI", help="length of the lesions; 4,14 when not given")
    p.add_argument("--cross-throat", action="store_true", help="let the crossing vessels cross a throat")
    p.add_argument("--occlude", action="store_true", help="close one daughter for good, see draw_occlusion")
    p.add_argument("--throat", type=float, metavar="MM", help="diameter of every throat of 50 %% or more")
    p.add_argument("--png", action="store_true", help="also a picture for the eye")
    options = p.parse_args()
    os.makedirs(options.out, exist_ok=True)
    start = time.time()
    for seed in options.seeds:
        make(seed, options)
    print(f"{len(options.seeds)} phantoms in {time.time() - start:.1f} s", file=sys.stderr)


if __name__ == "__main__":
    main()
